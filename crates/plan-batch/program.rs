//! The program `plan-batch`.
fn main() -> std::process::ExitCode {
    secondmelt_plan_batch::main()
}
