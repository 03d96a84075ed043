//! What to change in the next cycle.

/// The program.
pub fn main() -> std::process::ExitCode {
    std::process::ExitCode::from(2)
}
