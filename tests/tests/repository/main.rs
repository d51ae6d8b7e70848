//! Rules of the repository: arrows between rooms, who may name codecs, print or exit, and the shape of source files.

mod licences;

use anyhow::{Context, Result, ensure};
use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::{Path, PathBuf};

/// Rooms and what each may import, in the order of the chain. What is not drawn here is not allowed.
const ARROWS: [(&str, &[&str]); 20] = [
    ("quantities", &[]),
    ("shelf", &[]),
    ("handover", &["results", "dossier", "report", "shelf"]),
    ("results", &["quantities"]),
    ("footage", &["quantities", "shelf"]),
    ("targets", &["quantities"]),
    ("geometry", &["quantities"]),
    ("sensors", &["quantities", "shelf"]),
    ("timing", &["quantities"]),
    ("motion", &["quantities", "geometry"]),
    ("crosscheck", &["quantities", "motion", "sensors"]),
    ("occupant", &["quantities", "motion", "sensors"]),
    (
        "dossier",
        &[
            "quantities",
            "footage",
            "targets",
            "geometry",
            "sensors",
            "timing",
            "motion",
            "crosscheck",
            "occupant",
            "results",
            "shelf",
        ],
    ),
    ("daybook", &["quantities", "dossier", "shelf"]),
    ("report", &["quantities", "results", "shelf"]),
    ("marked", &["quantities", "footage", "results", "dossier", "report", "handover", "shelf"]),
    ("proving", &["quantities", "geometry"]),
    (
        "cli",
        &[
            "quantities",
            "footage",
            "targets",
            "geometry",
            "sensors",
            "results",
            "dossier",
            "report",
            "proving",
            "shelf",
            "handover",
            "marked",
        ],
    ),
    (
        "desktop",
        &[
            "quantities",
            "footage",
            "targets",
            "results",
            "dossier",
            "daybook",
            "report",
            "shelf",
            "marked",
            "handover",
        ],
    ),
    ("xtask", &[]),
];

/// Packages that only the rooms named may import.
const RESERVED: [(&str, &[&str]); 14] = [
    ("ffmpeg-next", &["footage"]),
    ("ffmpeg-sys-next", &["footage"]),
    ("image", &["footage", "report", "targets"]),
    ("png", &["footage", "report"]),
    ("resvg", &["report"]),
    ("krilla", &["report"]),
    ("zip", &["handover"]),
    ("krilla-svg", &["report"]),
    ("parquet", &["report"]),
    ("rust_xlsxwriter", &["report"]),
    ("clap", &["cli", "desktop"]),
    ("anyhow", &["cli", "desktop"]),
    ("egui", &["desktop"]),
    ("eframe", &["desktop"]),
];

/// Rooms that speak on the terminal and end the program.
const SPEAKERS: [&str; 2] = ["cli", "xtask"];

/// Most lines of a function, from its name to its closing brace.
const MOST_LINES: usize = 80;

#[test]
fn arrows_between_rooms_are_as_drawn() -> Result<()> {
    let drawn: BTreeMap<&str, &[&str]> = ARROWS.into_iter().collect();
    for (room, imports) in imports_of_rooms()? {
        let allowed = drawn.get(room.as_str()).with_context(|| format!("crates/{room} is in no drawing"))?;
        for import in imports.iter().filter_map(|import| import.strip_prefix("filmgauge-")) {
            ensure!(allowed.contains(&import), "{room} may not import {import}");
        }
    }
    Ok(())
}

#[test]
fn codecs_windows_and_command_lines_stay_in_their_rooms() -> Result<()> {
    for (room, imports) in imports_of_rooms()? {
        for (package, rooms) in RESERVED {
            let allowed = !imports.contains(package) || rooms.contains(&room.as_str());
            ensure!(allowed, "{room} may not import {package}");
        }
        ensure!(room != "xtask" || imports.is_empty(), "xtask builds with the standard library alone");
    }
    Ok(())
}

#[test]
fn every_source_file_opens_with_its_role() -> Result<()> {
    for (path, text) in rust_files()? {
        let first = text.lines().next().unwrap_or("");
        ensure!(
            first.starts_with("//! ") && first.len() > 8,
            "{}: no role in its first line",
            path.display()
        );
    }
    Ok(())
}

#[test]
fn every_crate_is_named_in_the_developers_map() -> Result<()> {
    let map = fs::read_to_string(root().join("DEVELOPERS.md"))?;
    for room in imports_of_rooms()?.keys() {
        ensure!(map.contains(&format!("`crates/{room}`")), "DEVELOPERS.md does not name crates/{room}");
    }
    Ok(())
}

#[test]
fn rooms_below_the_command_line_neither_print_nor_exit() -> Result<()> {
    for (path, text) in rust_files()? {
        let place = path.strip_prefix(root())?;
        let mut parts = place.iter().map(|part| part.to_string_lossy());
        let (top, room) = (parts.next(), parts.next());
        let is_library = top.as_deref() == Some("crates")
            && room.is_some_and(|room| !SPEAKERS.contains(&room.as_ref()))
            && parts.next().as_deref() == Some("src")
            && path.file_name().is_none_or(|name| name != "tests.rs");
        if !is_library {
            continue;
        }
        for (number, line) in code_lines(&text) {
            for word in ["println!", "eprintln!", "print!(", "dbg!(", "process::exit", "process::abort"] {
                ensure!(!line.contains(word), "{}:{number}: {word} in a library", place.display());
            }
        }
    }
    Ok(())
}

#[test]
fn nothing_is_left_to_be_done_later() -> Result<()> {
    let words =
        [concat!("TO", "DO"), concat!("FIX", "ME"), concat!("to", "do!"), concat!("unimple", "mented!")];
    for (path, text) in rust_files()?.into_iter().chain(files_ending("py")?).chain(files_ending("md")?) {
        for (number, line) in text.lines().enumerate() {
            let word = words.iter().find(|word| line.contains(*word));
            ensure!(word.is_none(), "{}:{}: {word:?}", path.display(), number + 1);
        }
    }
    Ok(())
}

#[test]
fn files_name_no_place_of_one_machine() -> Result<()> {
    let places = [concat!("/wo", "rk/"), concat!("/ro", "ot/"), concat!("/ho", "me/")];
    let mut files = rust_files()?;
    for ending in ["py", "md", "toml", "txt", "csv", "json", "html"] {
        files.extend(files_ending(ending)?);
    }
    for (path, text) in files {
        let place = places.iter().find(|place| text.contains(*place));
        ensure!(place.is_none(), "{}: names {place:?}", path.display());
    }
    Ok(())
}

#[test]
fn functions_fit_on_a_page() -> Result<()> {
    for (path, text) in rust_files()? {
        for (name, first, n_lines) in functions(&text) {
            ensure!(n_lines <= MOST_LINES, "{}:{first}: {name} has {n_lines} lines", path.display());
        }
    }
    Ok(())
}

#[test]
fn the_measure_of_functions_sees_long_ones() {
    let long = format!("fn short() {{}}\n\npub fn long(\n    a: u8,\n) {{\n{}}}\n", "    a();\n".repeat(90));
    let found = functions(&long);
    assert_eq!(found, [("short".to_owned(), 1, 1), ("long".to_owned(), 3, 94)]);
}

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("..")
}

/// Packages that each crate imports when it is used, without those of its own tests.
fn imports_of_rooms() -> Result<BTreeMap<String, BTreeSet<String>>> {
    let mut rooms = BTreeMap::new();
    for entry in fs::read_dir(root().join("crates"))? {
        let entry = entry?;
        let text = fs::read_to_string(entry.path().join("Cargo.toml"))
            .with_context(|| format!("{} is no crate", entry.path().display()))?;
        let manifest: toml::Table = text.parse()?;
        let mut imports = BTreeSet::new();
        for section in ["dependencies", "build-dependencies"] {
            let table = manifest.get(section).and_then(toml::Value::as_table);
            imports.extend(table.into_iter().flat_map(|table| table.keys().cloned()));
        }
        rooms.insert(entry.file_name().to_string_lossy().into_owned(), imports);
    }
    ensure!(rooms.len() >= ARROWS.len(), "only {} crates found", rooms.len());
    Ok(rooms)
}

fn rust_files() -> Result<Vec<(PathBuf, String)>> {
    let files = files_ending("rs")?;
    ensure!(files.len() > 50, "only {} source files found", files.len());
    Ok(files)
}

/// Files of the project with their text, in a fixed order.
fn files_ending(ending: &str) -> Result<Vec<(PathBuf, String)>> {
    let mut files = Vec::new();
    let mut folders = vec![root()];
    while let Some(folder) = folders.pop() {
        for entry in fs::read_dir(&folder)? {
            let path = entry?.path();
            let name = path.file_name().map(|name| name.to_string_lossy().into_owned()).unwrap_or_default();
            if path.is_dir() && name != "target" && name != ".git" {
                folders.push(path);
            } else if path.extension().is_some_and(|found| found == ending) {
                let bytes = fs::read(&path).with_context(|| format!("{}", path.display()))?;
                files.push((path, String::from_utf8_lossy(&bytes).into_owned()));
            }
        }
    }
    files.sort();
    Ok(files)
}

/// Numbered lines that are compiled into the library: no comments, nothing behind the start of its tests.
fn code_lines(text: &str) -> impl Iterator<Item = (usize, &str)> {
    let lines = text.lines().enumerate().take_while(|(_, line)| !line.trim().starts_with("#[cfg(test)]"));
    lines.filter(|(_, line)| !line.trim().starts_with("//")).map(|(number, line)| (number + 1, line))
}

/// Name, first line and number of lines of every function of a formatted file: it ends with the first brace that
/// stands as far in as its beginning.
fn functions(text: &str) -> Vec<(String, usize, usize)> {
    let lines: Vec<&str> = text.lines().collect();
    let mut found = Vec::new();
    for (at, line) in lines.iter().enumerate() {
        let Some(name) = function_name(line) else { continue };
        let indent = line.len() - line.trim_start().len();
        let is_last = |line: &&str| {
            let outer = line.len() - line.trim_start().len() == indent && !line.trim().is_empty();
            outer && (line.trim() == "}" || line.trim_end().ends_with(';'))
        };
        let n_lines = if line.ends_with('}') || line.ends_with(';') {
            1
        } else {
            2 + lines[at + 1..].iter().take_while(|line| !is_last(line)).count()
        };
        found.push((name, at + 1, n_lines));
    }
    found
}

fn function_name(line: &str) -> Option<String> {
    let mut words = line.split_whitespace().skip_while(|word| {
        matches!(*word, "pub" | "const" | "async" | "unsafe" | "extern" | "\"C\"") || word.starts_with("pub(")
    });
    if words.next()? != "fn" {
        return None;
    }
    Some(words.next()?.split(['(', '<']).next()?.to_owned())
}
