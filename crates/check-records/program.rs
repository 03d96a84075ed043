//! The program `check-records`.
fn main() -> std::process::ExitCode {
    secondmelt_check_records::main()
}
