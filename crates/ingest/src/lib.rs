//! Tables of a lab into records.

/// The program.
pub fn main() -> std::process::ExitCode {
    std::process::ExitCode::from(2)
}
