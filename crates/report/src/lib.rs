//! What a person looks at in the morning.

/// The program.
pub fn main() -> std::process::ExitCode {
    std::process::ExitCode::from(2)
}
