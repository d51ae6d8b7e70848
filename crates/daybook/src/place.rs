//! Places of a dossier in words, for the day book's readers.

use crate::edit::PathStep;
use crate::toml_path;
use toml_edit::{DocumentMut, Value};

/// "camera side, speed frames_per_s": an item is named by its id where it has one, else by its number from 1.
pub(crate) fn of_path(document: &DocumentMut, path: &[PathStep]) -> String {
    let mut words: Vec<String> = Vec::new();
    for (depth, step) in path.iter().enumerate() {
        match step {
            PathStep::Key(key) => words.push(key.clone()),
            PathStep::Item(index) => {
                let id = toml_path::id_at(document, &path[..=depth]);
                let name = id.unwrap_or_else(|| (index + 1).to_string());
                match words.last_mut() {
                    Some(word) => *word = format!("{word} {name}"),
                    None => words.push(name),
                }
            }
        }
    }
    words.join(", ")
}

/// "target C1".
pub(crate) fn of_new(table: &str, values: &[(String, Value)]) -> String {
    let id = values.iter().find(|(key, _)| key == "id").and_then(|(_, value)| value.as_str());
    id.map_or_else(|| table.to_owned(), |id| format!("{table} {id}"))
}

/// "mark of C1 in camera side, frame 12".
pub(crate) fn of_pick(camera: &str, frame: u32, target: &str) -> String {
    format!("mark of {target} in camera {camera}, frame {frame}")
}
