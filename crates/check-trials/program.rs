//! The program `check-trials`.
fn main() -> std::process::ExitCode {
    secondmelt_check_trials::main()
}
