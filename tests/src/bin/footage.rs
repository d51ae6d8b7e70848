//! Makes `docs/footage.md`: random reads of every kind of film, misses of ours and of the peers.

use anyhow::Context;
use std::path::PathBuf;

fn main() -> anyhow::Result<()> {
    let out = std::env::args().skip_while(|word| word != "--out").nth(1);
    let out = PathBuf::from(out.unwrap_or_else(|| "docs/footage.md".into()));
    let page = filmgauge_tests::footage_films::random_access_page()?;
    std::fs::write(&out, page).with_context(|| format!("{} cannot be written", out.display()))
}
