//! The program `report`.
fn main() -> std::process::ExitCode {
    secondmelt_report::main()
}
