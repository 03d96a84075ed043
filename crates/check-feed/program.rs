//! The program `check-feed`.
fn main() -> std::process::ExitCode {
    secondmelt_check_feed::main()
}
