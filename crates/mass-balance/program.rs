//! The program `mass-balance`.
fn main() -> std::process::ExitCode {
    secondmelt_mass_balance::main()
}
