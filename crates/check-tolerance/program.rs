//! The program `check-tolerance`.
fn main() -> std::process::ExitCode {
    secondmelt_check_tolerance::main()
}
