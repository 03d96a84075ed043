//! Writes the example lab: `cargo run --example make-lab -- examples/lab`.
//!
//! Everything it writes is invented. The same seed gives the same bytes, so the
//! files can be committed and a test can tell when they no longer fit.

mod lab;

use std::path::Path;

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let folder = std::env::args().nth(1).ok_or("say where to: make-lab FOLDER")?;
    for (name, bytes) in lab::files()? {
        let path = Path::new(&folder).join(name);
        if let Some(parent) = path.parent() {
            std::fs::create_dir_all(parent)?;
        }
        std::fs::write(&path, bytes)?;
    }
    Ok(())
}
