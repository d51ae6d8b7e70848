//! What leaves with a measurement: tables in open formats, the sheet on paper, and a lab's own template.

use crate::rehearsal::{Copy, run};
use anyhow::{Result, ensure};
use filmgauge_cli::Exit;
use std::fs;
use std::path::Path;

#[test]
fn every_format_is_written_and_named() -> Result<()> {
    let copy = Copy::new()?;
    let said = copy.measure()?;
    for (name, start) in [
        ("sheet.pdf", b"%PDF-1.7".as_slice()),
        ("results.xlsx", b"PK\x03\x04"),
        ("marks.parquet", b"PAR1"),
        ("motion.parquet", b"PAR1"),
        ("findings.csv", b"name,subject,source,value,unit,"),
        ("tables.json", b"{\"schema\":1,"),
    ] {
        let bytes = fs::read(copy.path(&format!("results/{name}")))?;
        ensure!(bytes.starts_with(start), "{name} begins with {:?}", &bytes[..bytes.len().min(40)]);
    }
    ensure!(said.out.contains("sheet.pdf") && said.out.contains("results.xlsx"), "{}", said.out);
    let hidden: Vec<_> = fs::read_dir(copy.path("results"))?
        .filter_map(|entry| Some(entry.ok()?.file_name().to_string_lossy().into_owned()))
        .filter(|name| name.starts_with('.'))
        .collect();
    ensure!(hidden.is_empty(), "{hidden:?}");
    Ok(())
}

#[test]
fn a_lab_s_template_makes_the_page() -> Result<()> {
    let copy = Copy::new()?;
    let lab = copy.path("lab");
    let said = run(&[Path::new("template"), &lab])?;
    ensure!(said.exit == Exit::Done && said.out.contains("sheet.html.j2"), "{}{}", said.out, said.err);
    run(&[Path::new("template"), &lab])?.refused(&["never replaced"])?;
    let page = copy.text("lab/sheet.html.j2")?.replace("Sheet of findings <span", "Test bench 3 <span");
    copy.put("lab/sheet.html.j2", page)?;
    let text = copy.text("dossier.toml")?;
    copy.put("dossier.toml", text.replacen("[test]\n", "[test]\ntemplate = \"lab\"\n", 1))?;
    copy.measure()?;
    ensure!(copy.text("results/sheet.html")?.contains("Test bench 3"), "the lab's page is not used");
    ensure!(copy.text("results/provenance.json")?.contains("lab/sheet.html.j2"), "the template has no hash");
    Ok(())
}

#[test]
fn a_template_with_a_mistake_is_named_and_everything_is_written() -> Result<()> {
    let copy = Copy::new()?;
    let lab = copy.path("lab");
    fs::create_dir(&lab)?;
    copy.put("lab/sheet.html.j2", "<p>\n{{ no_such_thing }}\n")?;
    let folder = copy.path("");
    let said = run(&[Path::new("measure"), &folder, Path::new("--template"), &lab])?;
    ensure!(said.exit == Exit::NeedsPerson, "{}", said.err);
    for part in ["needs a person: template: ", "sheet.html.j2, line 2", "built-in template instead"] {
        ensure!(said.out.contains(part), "{part}: {}", said.out);
    }
    ensure!(
        copy.text("results/sheet.html")?.contains("Speed at contact")
            && copy.path("results/sheet.pdf").is_file()
    );
    Ok(())
}
