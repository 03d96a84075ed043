//! The program `ingest`.
fn main() -> std::process::ExitCode {
    secondmelt_ingest::main()
}
