//! `handover` and `recheck`: the same bytes again, elsewhere and with other threads; what was changed is named.

use crate::rehearsal::{Copy, Said, run};
use anyhow::{Result, ensure};
use filmgauge_cli::Exit;
use serde_json::Value;
use std::io::Write as _;
use std::path::{Path, PathBuf};

fn recheck(what: &Path, more: &[&str]) -> Result<Said> {
    let mut all = vec![PathBuf::from("recheck"), what.to_owned()];
    all.extend(more.iter().map(PathBuf::from));
    run(&all)
}

#[test]
fn results_come_out_again_and_whatever_was_changed_is_named() -> Result<()> {
    let copy = Copy::new()?;
    copy.measure()?;
    let folder = copy.path("");
    let said = recheck(&folder, &["--threads", "1"])?;
    ensure!(said.exit == Exit::Done && said.out.contains("byte for byte"), "{}{}", said.out, said.err);

    let findings = copy.text("results/findings.json")?;
    copy.put("results/findings.json", findings.replacen("\"unit\": \"m/s\"", "\"unit\": \"km/h\"", 1))?;
    let said = recheck(&folder, &[])?;
    for part in ["findings.json, line", "km/h", "the stored results were changed afterwards"] {
        ensure!(said.exit == Exit::NeedsPerson && said.out.contains(part), "{part}: {}", said.out);
    }
    copy.put("results/findings.json", findings)?;

    let text = copy.text("dossier.toml")?;
    copy.put("dossier.toml", text.replacen("mass_kg = 1180.0", "mass_kg = 1190.0", 1))?;
    let said = recheck(&folder, &[])?;
    for part in ["body[car].mass_kg: 1180.0 when it was measured, 1190.0 now", "input dossier.toml"] {
        ensure!(said.exit == Exit::NeedsPerson && said.out.contains(part), "{part}: {}", said.out);
    }
    let json = run(&[PathBuf::from("--json"), PathBuf::from("recheck"), folder])?;
    let said: Value = serde_json::from_str(&json.out)?;
    ensure!(said["same"] == false && said["changes"].is_array(), "{said:#}");
    Ok(())
}

#[test]
fn an_archive_opens_elsewhere_and_a_flipped_byte_is_named() -> Result<()> {
    let copy = Copy::new()?;
    let (folder, archive) = (copy.path(""), copy.path("test.zip"));
    let pack = |to: &Path, more: &[&str]| {
        let mut all = vec![PathBuf::from("handover"), folder.clone(), "--out".into(), to.to_owned()];
        all.extend(more.iter().map(PathBuf::from));
        run(&all)
    };
    pack(&archive, &[])?.refused(&["provenance.json", "measure the dossier first"])?;
    copy.measure()?;
    let said = pack(&archive, &[])?;
    ensure!(said.out.contains("by their hash alone"), "{}", said.out);
    let whole = copy.path("whole.zip");
    pack(&whole, &["--with-footage"])?;
    let again = copy.path("again.zip");
    pack(&again, &["--with-footage"])?;
    ensure!(std::fs::read(&whole)? == std::fs::read(&again)?, "the same folder gives the same archive");
    let said = recheck(&whole, &[])?;
    ensure!(said.exit == Exit::Done, "{}{}", said.out, said.err);
    recheck(&archive, &[])?.refused(&["by its hash alone", "--footage"])?;
    let said = recheck(&archive, &["--footage", &folder.to_string_lossy()])?;
    ensure!(said.exit == Exit::Done, "{}{}", said.out, said.err);

    let film = copy.path("footage/side.mkv");
    let mut bytes = std::fs::read(&film)?;
    let middle = bytes.len() / 2;
    bytes[middle] ^= 1;
    // The film of a copy is a link to the one that all tests share.
    std::fs::remove_file(&film)?;
    std::fs::write(&film, &bytes)?;
    let said = recheck(&archive, &["--footage", &folder.to_string_lossy()])?;
    let named = "input footage/side.mkv has other bytes than when it was measured, of the same number";
    ensure!(said.exit == Exit::NeedsPerson && said.out.contains(named), "{}{}", said.out, said.err);
    pack(&again, &[])?.refused(&["footage/side.mkv", "measure the dossier again"])?;

    let mut damaged = std::fs::read(&whole)?;
    let middle = damaged.len() / 2;
    damaged[middle] ^= 1;
    std::fs::write(&whole, &damaged)?;
    let said = recheck(&whole, &[])?;
    ensure!(said.out.contains("was changed after the hand-over"), "{}{}", said.out, said.err);
    Ok(())
}

#[test]
fn an_archive_that_leads_out_of_its_folder_is_refused() -> Result<()> {
    let folder = tempfile::tempdir()?;
    let path = folder.path().join("odd.zip");
    let mut archive = zip::ZipWriter::new(std::fs::File::create(&path)?);
    let plain = zip::write::SimpleFileOptions::default();
    archive.start_file("manifest.json", plain)?;
    archive.write_all(br#"{ "schema": 1, "program": "filmgauge", "files": [] }"#)?;
    archive.start_file("../out.txt", plain)?;
    archive.write_all(b"out")?;
    archive.finish()?;
    recheck(&path, &[])?.refused(&["odd.zip", "../out.txt", "leads out of the folder"])?;
    ensure!(!folder.path().join("out.txt").exists() && !folder.path().join("../out.txt").exists());
    std::fs::write(&path, b"no archive")?;
    recheck(&path, &[])?.refused(&["odd.zip", "ask for the archive again"])
}

#[test]
fn a_template_given_for_one_measurement_is_an_input_like_any_other() -> Result<()> {
    let (copy, elsewhere) = (Copy::new()?, tempfile::tempdir()?);
    let (folder, lab) = (copy.path(""), elsewhere.path().join("lab"));
    run(&[Path::new("template"), &lab])?;
    std::fs::write(lab.join("sheet.css"), ".lab { color: teal }")?;
    run(&[Path::new("measure"), &folder, Path::new("--template"), &lab])?;
    let kept = "results/template/sheet.css";
    ensure!(copy.text("results/provenance.json")?.contains(kept), "the template has no hash");
    let said = recheck(&folder, &[])?;
    ensure!(said.exit == Exit::Done, "{}{}", said.out, said.err);

    // The lab's own folder is gone, and the archive opens on another path.
    std::fs::remove_dir_all(&lab)?;
    let archive = elsewhere.path().join("whole.zip");
    let pack = [Path::new("handover"), &folder, Path::new("--with-footage"), Path::new("--out"), &archive];
    ensure!(run(&pack)?.exit == Exit::Done);
    let said = recheck(&archive, &[])?;
    ensure!(said.exit == Exit::Done && said.out.contains("byte for byte"), "{}{}", said.out, said.err);

    copy.put(kept, ".lab { color: maroon }")?;
    let said = recheck(&folder, &[])?;
    let named = "input results/template/sheet.css has 22 bytes; it had 20 when it was measured";
    ensure!(said.exit == Exit::NeedsPerson && said.out.contains(named), "{}{}", said.out, said.err);
    run(&pack)?.refused(&[kept, "measure the dossier again"])?;

    // The next measurement without it leaves nothing of it.
    copy.measure()?;
    ensure!(!copy.path(kept).exists(), "an older template was kept");
    Ok(())
}

#[test]
fn a_template_within_the_dossier_is_named_where_it_lies() -> Result<()> {
    let copy = Copy::new()?;
    let (folder, lab) = (copy.path(""), copy.path("lab"));
    run(&[Path::new("template"), &lab])?;
    run(&[Path::new("measure"), &folder, Path::new("--template"), &lab])?;
    ensure!(copy.text("results/provenance.json")?.contains("\"lab/sheet.css\""), "the template has no hash");
    let said = recheck(&folder, &[])?;
    ensure!(said.exit == Exit::Done, "{}{}", said.out, said.err);
    copy.put("lab/sheet.css", ".lab { color: maroon }")?;
    let said = recheck(&folder, &[])?;
    ensure!(said.exit == Exit::NeedsPerson && said.out.contains("input lab/sheet.css has"), "{}", said.out);
    Ok(())
}

/// A film large enough that a person has time to stop: noughts that take no room on the disk.
const LARGE: u64 = 1 << 30;

#[cfg(unix)]
#[test]
fn ctrl_c_while_packing_leaves_nothing() -> Result<()> {
    let (copy, out) = (Copy::new()?, tempfile::tempdir()?);
    let film = copy.path("footage/large.raw");
    std::fs::File::create(&film)?.set_len(LARGE)?;
    std::fs::create_dir(copy.path("results"))?;
    let (bytes, hash) = filmgauge_shelf::hashed(&film)?;
    let input =
        serde_json::json!({ "path": "footage/large.raw", "kind": "footage", "bytes": bytes, "blake3": hash });
    let provenance =
        serde_json::json!({ "program": "filmgauge", "inputs": [input], "settings": [], "dossier": [] });
    copy.put("results/provenance.json", provenance.to_string())?;
    let names = || -> Result<Vec<String>> {
        let entries = std::fs::read_dir(out.path())?;
        entries.map(|entry| Ok(entry?.file_name().to_string_lossy().into_owned())).collect()
    };
    let archive = out.path().join("whole.zip");
    let process = std::process::Command::new(env!("CARGO_BIN_EXE_command"))
        .args([
            Path::new("handover"),
            &copy.path(""),
            Path::new("--with-footage"),
            Path::new("--out"),
            &archive,
        ])
        .stderr(std::process::Stdio::piped())
        .spawn()?;
    while names()?.is_empty() {
        std::thread::sleep(std::time::Duration::from_millis(2));
    }
    std::process::Command::new("kill").args(["-INT", &process.id().to_string()]).status()?;
    let said = process.wait_with_output()?;
    let told = String::from_utf8(said.stderr)?;
    ensure!(
        said.status.code() == Some(2) && told.contains("stopped on request"),
        "{:?}: {told}",
        said.status
    );
    ensure!(names()?.is_empty(), "left: {:?}", names()?);
    Ok(())
}
