//! The program `cycle-adjust`.
fn main() -> std::process::ExitCode {
    secondmelt_cycle_adjust::main()
}
