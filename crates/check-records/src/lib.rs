//! Streams and steps against the record contract.

/// The program.
pub fn main() -> std::process::ExitCode {
    std::process::ExitCode::from(2)
}
