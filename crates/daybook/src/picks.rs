//! Marks by hand as text: `picks/<camera>.csv` read and changed row by row, other rows and comments left alone.

use crate::error::DaybookError;

const HEAD: &str = "frame,target,x_px,y_px,sx_px,sy_px,operator";

/// One mark by hand.
#[derive(Debug, Clone, PartialEq)]
pub struct Pick {
    /// Frame number.
    pub frame: u32,
    /// Target id.
    pub target: String,
    /// Place in the stored picture, px.
    pub x_px: f64,
    /// Place in the stored picture, px.
    pub y_px: f64,
    /// Standard uncertainty along x, px; the usual one of pointing when `None`.
    pub sx_px: Option<f64>,
    /// Standard uncertainty along y, px; the usual one of pointing when `None`.
    pub sy_px: Option<f64>,
    /// Who placed it.
    pub operator: Option<String>,
}

/// Rows that are marks, in the file's order; what cannot be read is passed over here and named when measuring.
pub(crate) fn read(text: &str) -> Vec<Pick> {
    let Some((at, columns)) = head(text) else { return Vec::new() };
    text.lines().skip(at + 1).filter_map(|line| row(line, &columns)).collect()
}

/// The text with `pick` in it, and the mark that it replaces.
pub(crate) fn put(text: &str, pick: &Pick) -> Result<(String, Option<Pick>), DaybookError> {
    check(pick)?;
    let mut lines: Vec<String> = text.lines().map(str::to_owned).collect();
    let (at, mut columns) = match head(text) {
        Some(found) => found,
        None => {
            lines.push(HEAD.into());
            (lines.len() - 1, cells(HEAD).map(str::to_owned).collect())
        }
    };
    for column in ["sx_px", "sy_px", "operator"] {
        if !columns.iter().any(|known| known == column) && !cell_of(pick, column).is_empty() {
            columns.push(column.into());
            lines[at] = format!("{},{column}", lines[at].trim_end());
            for line in lines[at + 1..].iter_mut().filter(|line| is_row(line)) {
                line.push(',');
            }
        }
    }
    let made = columns.iter().map(|column| cell_of(pick, column)).collect::<Vec<_>>().join(",");
    let same = found(&lines, (at, &columns), pick.frame, &pick.target);
    let old = match same {
        Some((index, found)) => {
            lines[index] = made;
            Some(found)
        }
        None => {
            lines.push(made);
            None
        }
    };
    Ok((joined(text, &lines), old))
}

/// The text without that mark, and the mark; `None` when there is none. The last mark takes a bare head with it.
pub(crate) fn remove(text: &str, frame: u32, target: &str) -> Option<(String, Pick)> {
    let (at, columns) = head(text)?;
    let mut lines: Vec<String> = text.lines().map(str::to_owned).collect();
    let (index, old) = found(&lines, (at, &columns), frame, target)?;
    lines.remove(index);
    let is_bare = lines.len() == 1;
    Some((if is_bare { String::new() } else { joined(text, &lines) }, old))
}

/// Line of a mark below the head, and the mark. Only lines that name the target are read, as there may be thousands.
fn found(
    lines: &[String],
    (head, columns): (usize, &[String]),
    frame: u32,
    target: &str,
) -> Option<(usize, Pick)> {
    let below = lines.iter().enumerate().skip(head + 1).filter(|(_, line)| line.contains(target));
    let frame_at = columns.iter().position(|column| column == "frame")?;
    let mut of_frame =
        below.filter(|(_, line)| cells(line).nth(frame_at).and_then(|cell| cell.parse().ok()) == Some(frame));
    of_frame.find_map(|(index, line)| Some((index, row(line, columns).filter(|pick| pick.target == target)?)))
}

/// A mark in words.
pub(crate) fn told(pick: &Pick) -> String {
    format!("({}, {}) px", pick.x_px, pick.y_px)
}

fn joined(text: &str, lines: &[String]) -> String {
    let end = if text.contains("\r\n") { "\r\n" } else { "\n" };
    lines.iter().map(|line| format!("{line}{end}")).collect()
}

fn check(pick: &Pick) -> Result<(), DaybookError> {
    let numbers = [Some(pick.x_px), Some(pick.y_px), pick.sx_px, pick.sy_px];
    if numbers.into_iter().flatten().any(|value| !value.is_finite()) {
        return Err(DaybookError::refused("a mark's place and uncertainty must be finite numbers"));
    }
    let words = [Some(pick.target.as_str()), pick.operator.as_deref()];
    let is_plain = |word: &str| word.trim() == word && !word.contains([',', '"', '\n', '\r']);
    if pick.target.is_empty() || !words.into_iter().flatten().all(is_plain) {
        return Err(DaybookError::refused("names of targets and operators hold no comma, quote or line end"));
    }
    Ok(())
}

fn head(text: &str) -> Option<(usize, Vec<String>)> {
    let (at, line) = text.lines().enumerate().find(|(_, line)| is_row(line))?;
    Some((at, cells(line.trim_start_matches('\u{feff}')).map(str::to_lowercase).collect()))
}

fn row(line: &str, columns: &[String]) -> Option<Pick> {
    let values: Vec<&str> = cells(line).collect();
    if !is_row(line) || values.len() != columns.len() {
        return None;
    }
    let cell = |name: &str| columns.iter().position(|column| column == name).map_or("", |at| values[at]);
    let number = |name: &str| cell(name).parse::<f64>().ok().filter(|value| value.is_finite());
    Some(Pick {
        frame: cell("frame").parse().ok()?,
        target: cell("target").to_owned(),
        x_px: number("x_px")?,
        y_px: number("y_px")?,
        sx_px: number("sx_px"),
        sy_px: number("sy_px"),
        operator: Some(cell("operator").to_owned()).filter(|name| !name.is_empty()),
    })
}

fn cell_of(pick: &Pick, column: &str) -> String {
    let number = |value: Option<f64>| value.map_or_else(String::new, |value| value.to_string());
    match column {
        "frame" => pick.frame.to_string(),
        "target" => pick.target.clone(),
        "x_px" => pick.x_px.to_string(),
        "y_px" => pick.y_px.to_string(),
        "sx_px" => number(pick.sx_px),
        "sy_px" => number(pick.sy_px),
        "operator" => pick.operator.clone().unwrap_or_default(),
        _ => String::new(),
    }
}

fn is_row(line: &str) -> bool {
    let line = line.trim();
    !line.is_empty() && !line.starts_with('#')
}

fn cells(line: &str) -> impl Iterator<Item = &str> {
    line.split(',').map(|cell| cell.trim().trim_matches('"'))
}
