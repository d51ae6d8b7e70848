//! Exchange folders (ISO/TS 13499): test header, channel index, and one file per channel.

use crate::exchange_channel::channel_from;
use crate::header::Header;
use crate::text::{file_error, read_text};
use crate::{Channel, SensorsError};
use std::path::{Path, PathBuf};

/// One line of the channel index.
struct Listed {
    number: String,
    code: String,
}

/// Codes of all channels in the order of the index.
pub(crate) fn list_exchange(path: &Path) -> Result<Vec<String>, SensorsError> {
    Ok(Index::read(path)?.listed.into_iter().map(|listed| listed.code).collect())
}

/// The channel whose code is `code` (any case).
pub(crate) fn read_exchange(path: &Path, code: &str) -> Result<Channel, SensorsError> {
    // Times of a channel of times must be their own: nothing else can end the chain.
    let times = |name: &str| {
        read_indexed(path, name, &|_| {
            Err(file_error(path, None, format!("the channel of times \"{name}\" has explicit times itself")))
        })
    };
    read_indexed(path, code, &times)
}

fn read_indexed(
    path: &Path,
    code: &str,
    times: &dyn Fn(&str) -> Result<Channel, SensorsError>,
) -> Result<Channel, SensorsError> {
    let index = Index::read(path)?;
    let mut named = index.listed.iter().filter(|listed| listed.code.eq_ignore_ascii_case(code.trim()));
    let Some(listed) = named.next() else {
        let available = index.listed.iter().map(|listed| listed.code.clone()).collect();
        return Err(SensorsError::NoChannel { path: path.to_owned(), code: code.to_owned(), available });
    };
    if named.next().is_some() {
        let problem = format!("channel code \"{code}\" is listed twice; make the codes unique");
        return Err(file_error(&index.path, None, problem));
    }
    let wanted = format!("{}.{}", index.stem, listed.number);
    let file = entry_named(&index.folder, &wanted)?.ok_or_else(|| {
        file_error(
            &index.folder.join(&wanted),
            None,
            format!("is missing, though the index lists it as \"{code}\""),
        )
    })?;
    channel_from(&file, &read_text(&file)?, &listed.code, times)
}

struct Index {
    path: PathBuf,
    folder: PathBuf,
    stem: String,
    listed: Vec<Listed>,
}

impl Index {
    fn read(path: &Path) -> Result<Self, SensorsError> {
        read_text(path)?;
        let stem = path.file_stem().unwrap_or_default().to_string_lossy().into_owned();
        let parent = match path.parent() {
            Some(parent) if !parent.as_os_str().is_empty() => parent.to_owned(),
            _ => PathBuf::from("."),
        };
        let folder = entry_named(&parent, "Channel")?.ok_or_else(|| {
            file_error(path, None, "has no folder \"Channel\" beside it; copy the whole test folder")
        })?;
        let name = format!("{stem}.chn");
        let index = entry_named(&folder, &name)?.ok_or_else(|| {
            file_error(&folder.join(name), None, "is missing: the channel index says what there is")
        })?;
        let (header, _) = Header::read(&index, &read_text(&index)?);
        let listed = listed_channels(&header);
        if listed.is_empty() {
            return Err(file_error(&index, None, "lists no channels (\"Name of channel 001\" and so on)"));
        }
        Ok(Self { path: index, folder, stem, listed })
    }
}

fn listed_channels(header: &Header) -> Vec<Listed> {
    let prefix = "name of channel ";
    header
        .present()
        .filter_map(|(key, value, _)| {
            let number = key.to_ascii_lowercase().strip_prefix(prefix)?.trim().to_owned();
            let code = value.split('/').next().unwrap_or_default().trim().to_owned();
            let plain = !number.is_empty() && number.bytes().all(|b| b.is_ascii_digit());
            (plain && !code.is_empty()).then_some(Listed { number, code })
        })
        .collect()
}

/// The entry of a folder with this name, whatever its case: exchange folders travel between systems.
fn entry_named(folder: &Path, name: &str) -> Result<Option<PathBuf>, SensorsError> {
    let exact = folder.join(name);
    if exact.exists() {
        return Ok(Some(exact));
    }
    let disk = |source| SensorsError::Disk { path: folder.to_owned(), action: "read", source };
    let mut found = Vec::new();
    for entry in std::fs::read_dir(folder).map_err(disk)? {
        let entry = entry.map_err(disk)?;
        if entry.file_name().to_string_lossy().eq_ignore_ascii_case(name) {
            found.push(entry.path());
        }
    }
    found.sort();
    Ok(found.into_iter().next())
}
