//! Where every gram went.

/// The program.
pub fn main() -> std::process::ExitCode {
    std::process::ExitCode::from(2)
}
