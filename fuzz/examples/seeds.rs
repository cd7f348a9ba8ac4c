//! Writes what each target begins with to `corpus/TARGET/`, made from the built-in files.

use std::path::Path;
use std::{fs, io};

fn main() -> io::Result<()> {
    let corpus = Path::new(env!("CARGO_MANIFEST_DIR")).join("corpus");
    for target in coldbed_fuzz::TARGETS {
        let folder = corpus.join(target.name);
        fs::create_dir_all(&folder)?;
        let seeds = (target.seeds)();
        for (number, seed) in seeds.iter().enumerate() {
            fs::write(folder.join(format!("seed-{number:03}")), seed)?;
        }
        println!("{}: {} seeds", target.name, seeds.len());
    }
    Ok(())
}
