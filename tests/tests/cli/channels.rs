//! Channels that cannot be read: the film is still measured, and each bad channel is named with what to do.

use crate::rehearsal::{Copy, Said, run};
use anyhow::{Context, Result, ensure};
use std::path::Path;

/// A table of 200 samples at 10 kHz.
fn table(name: &str, value: impl Fn(usize) -> String) -> String {
    let mut text = format!("time_s,{name}\ns,g\n");
    for sample in 0..200 {
        text.push_str(&format!("{},{}\n", f64::from(sample as u32) / 1e4, value(sample)));
    }
    text
}

/// Keeps the dossier's channels out and puts `lines` there instead: file and code.
fn set_channels(copy: &Copy, lines: &[(&str, &str)]) -> Result<()> {
    let text = copy.text("dossier.toml")?;
    let start = text.find("[[channel]]").context("channels of the rehearsal")?;
    let end = text.find("[[crush]]").context("crush line of the rehearsal")?;
    let channels: String = lines
        .iter()
        .map(|(file, code)| {
            format!("[[channel]]\nfile = \"{file}\"\ncode = \"{code}\"\naxis = \"x\"\nbody = \"car\"\n\n")
        })
        .collect();
    copy.put("dossier.toml", format!("{}{channels}{}", &text[..start], &text[end..]))
}

fn asks(said: &Said, code: &str, parts: &[&str]) -> Result<()> {
    let head = format!("needs a person: channel {code}: ");
    said.asks(&[&[head.as_str()], parts].concat()).with_context(|| code.to_owned())
}

#[test]
fn a_bad_table_is_named_with_its_line() -> Result<()> {
    let copy = Copy::new()?;
    let good = |_| "0.5".to_owned();
    let at_57 =
        |text: &'static str| move |sample| if sample == 57 { text.to_owned() } else { "0.5".to_owned() };
    copy.put("sensors/word.csv", table("word", at_57("loose")))?;
    copy.put("sensors/nan.csv", table("nan", at_57("NaN")))?;
    copy.put("sensors/hole.csv", table("hole", at_57("")))?;
    copy.put("sensors/one.csv", "time_s,one\ns,g\n0.0,0.5\n")?;
    copy.put("sensors/none.csv", "time_s,none\n")?;
    copy.put("sensors/back.csv", "time_s,back\ns,g\n0.0,0.5\n0.0001,0.5\n0.00005,0.5\n0.0002,0.5\n")?;
    copy.put("sensors/still.csv", "time_s,still\ns,g\n0.1,0.5\n0.1,0.5\n0.1,0.5\n")?;
    copy.put("sensors/bare.csv", "")?;
    copy.put("sensors/speed.csv", table("speed", good).replace("s,g", "s,furlong"))?;
    copy.put("sensors/good.csv", table("good", good))?;
    let codes = ["word", "nan", "hole", "one", "none", "back", "still", "bare", "speed"];
    let files: Vec<String> = codes.iter().map(|code| format!("sensors/{code}.csv")).collect();
    let mut lines: Vec<(&str, &str)> = files.iter().map(String::as_str).zip(codes).collect();
    lines.push(("sensors/good.csv", "absent"));
    set_channels(&copy, &lines)?;

    let said = copy.measure()?;
    // Two heading rows, then sample 0 on line 3.
    asks(&said, "word", &["word.csv, line 60: ", "\"loose\" is not a number"])?;
    asks(&said, "nan", &["nan.csv, line 60: ", "not a finite number; cut or repair"])?;
    asks(&said, "hole", &["hole.csv, line 60: ", "a value is missing"])?;
    asks(&said, "one", &["one.csv", "a channel has at least 2"])?;
    asks(&said, "none", &["none.csv", "a channel has at least 2"])?;
    asks(&said, "back", &["back.csv, line 5: "])?;
    asks(&said, "still", &["still.csv"])?;
    asks(&said, "bare", &["bare.csv"])?;
    asks(&said, "speed", &["furlong"])?;
    asks(&said, "absent", &["good.csv", "no channel \"absent\"; the file holds: good"])?;
    ensure!(said.out.contains("contact_speed"), "the film is measured all the same: {}", said.out);
    Ok(())
}

#[test]
fn a_bad_exchange_folder_is_named() -> Result<()> {
    let copy = Copy::new()?;
    let spoil = |n: u32, change: &dyn Fn(&mut Vec<String>)| -> Result<()> {
        let name = format!("sensors/Channel/HB-014.{n:03}");
        let mut lines: Vec<String> = copy.text(&name)?.lines().map(str::to_owned).collect();
        change(&mut lines);
        copy.put(&name, lines.join("\n") + "\n")
    };
    spoil(1, &|lines| lines.truncate(lines.len() - 5))?;
    spoil(2, &|lines| lines[300] = "loose".into())?;
    spoil(3, &|lines| lines[300] = "NaN".into())?;
    spoil(4, &|lines| lines.retain(|line| !line.starts_with("Sampling interval")))?;
    std::fs::remove_file(copy.path("sensors/Channel/HB-014.005"))?;
    let codes =
        ["10CVEHCG0000ACXP", "10CVEHCG0000ACZP", "10FLORRE0000ACXP", "20CHASCG0000ACXP", "20CHASCG0000ACZP"];
    let mut lines: Vec<(&str, &str)> = codes.iter().map(|&code| ("sensors/HB-014.mme", code)).collect();
    lines.push(("sensors/HB-014.mme", "10HEAD000000ACXP"));
    set_channels(&copy, &lines)?;

    let said = copy.measure()?;
    asks(&said, codes[0], &["HB-014.001", "1601", "1596"])?;
    asks(&said, codes[1], &["HB-014.002, line 301: ", "\"loose\" is not a number"])?;
    asks(&said, codes[2], &["HB-014.003, line 301: ", "not a finite number; cut or repair"])?;
    asks(&said, codes[3], &["HB-014.004", "Sampling interval"])?;
    asks(&said, codes[4], &["HB-014"])?;
    asks(&said, "10HEAD000000ACXP", &["no channel \"10HEAD000000ACXP\"; the file holds: 10CVEHCG0000ACXP"])?;
    ensure!(said.out.contains("contact_speed"), "the film is measured all the same: {}", said.out);
    Ok(())
}

#[test]
fn bad_channels_stand_in_the_files_too() -> Result<()> {
    let copy = Copy::new()?;
    copy.put("sensors/nan.csv", table("nan", |_| "NaN".to_owned()))?;
    set_channels(&copy, &[("sensors/nan.csv", "nan")])?;
    let out = copy.path("elsewhere");
    let said = run(&[Path::new("measure"), &copy.path("dossier.toml"), Path::new("--out"), &out])?;
    asks(&said, "nan", &["nan.csv"])?;
    let crosscheck: serde_json::Value = serde_json::from_str(&copy.text("elsewhere/crosscheck.json")?)?;
    ensure!(crosscheck[0]["verdict"] == "not checked", "{crosscheck:#}");
    ensure!(
        crosscheck[0]["reason"].as_str().is_some_and(|reason| reason.contains("line 3")),
        "{crosscheck:#}"
    );
    Ok(())
}
