//! The edges file: which edges of one picture are straight in truth. Keys: `docs/formats.md`.

use crate::DossierError;
use crate::lines::line_at;
use serde::de::Error;
use serde::{Deserialize, Deserializer};

/// Straight edges of one picture, as a person shows them.
#[derive(Debug, Clone, PartialEq, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct EdgesFile {
    /// Frame of the footage, from 0.
    #[serde(default)]
    pub frame: u32,
    /// Centre of the distortion, px; the middle of the picture when left out.
    #[serde(default, deserialize_with = "place")]
    pub centre_px: Option<[f64; 2]>,
    /// Standard uncertainty of that along each axis, px; a share of the picture's width when left out.
    pub centre_uncertainty_px: Option<f64>,
    /// The edges.
    #[serde(default)]
    pub edge: Vec<EdgeEntry>,
}

/// One edge.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct EdgeEntry {
    /// Its name in reports; "edge 1" and so on when left out.
    pub name: Option<String>,
    /// Its ends, px, and places between them where it is not easily followed, in their order along it.
    #[serde(deserialize_with = "places")]
    pub points_px: Vec<[f64; 2]>,
    /// Whether points along it are located in the picture; else the points given are taken as they are.
    #[serde(default = "yes")]
    pub locate: bool,
}

fn yes() -> bool {
    true
}

/// Read as lists first: a pair would be taken from the first two of three numbers without a word.
fn places<'de, D: Deserializer<'de>>(source: D) -> Result<Vec<[f64; 2]>, D::Error> {
    let lists = Vec::<Vec<f64>>::deserialize(source)?;
    lists.into_iter().map(|list| pair(&list).map_err(D::Error::custom)).collect()
}

fn place<'de, D: Deserializer<'de>>(source: D) -> Result<Option<[f64; 2]>, D::Error> {
    Vec::deserialize(source).and_then(|list: Vec<f64>| pair(&list).map_err(D::Error::custom)).map(Some)
}

fn pair(list: &[f64]) -> Result<[f64; 2], String> {
    match *list {
        [x, y] => Ok([x, y]),
        _ => Err(format!("a place is two numbers, x and y; here are {}", list.len())),
    }
}

impl EdgesFile {
    /// The text of an edges file that [`EdgesFile::parse`] reads back to the same.
    #[must_use]
    pub fn to_toml(&self) -> String {
        let mut text = format!("frame = {}\n", self.frame);
        if let Some(centre_px) = self.centre_px {
            text.push_str(&format!("centre_px = {centre_px:?}\n"));
        }
        if let Some(u_px) = self.centre_uncertainty_px {
            text.push_str(&format!("centre_uncertainty_px = {u_px:?}\n"));
        }
        for edge in &self.edge {
            text.push_str("\n[[edge]]\n");
            if let Some(name) = &edge.name {
                text.push_str(&format!("name = {}\n", toml::Value::from(name.as_str())));
            }
            text.push_str(&format!("points_px = {:?}\n", edge.points_px));
            if !edge.locate {
                text.push_str("locate = false\n");
            }
        }
        text
    }

    /// Reads the text of an edges file.
    ///
    /// # Errors
    /// [`DossierError::Document`] with `file_name` and line for text that is no such file.
    pub fn parse(text: &str, file_name: &str) -> Result<Self, DossierError> {
        let error = |line: usize, what: String| DossierError::Document {
            file: file_name.to_owned(),
            line,
            what,
            remedy: "Write each edge as [[edge]] with points_px = [[x, y], [x, y]]".into(),
        };
        let file: Self = toml::from_str(text).map_err(|why| {
            error(line_at(text, &why.span().unwrap_or(0..0)), why.message().trim().replace('\n', "; "))
        })?;
        // A number that is none would otherwise be met far from its line.
        let is_number = |point: &[f64; 2]| point.iter().all(|value| value.is_finite());
        let points = file.edge.iter().flat_map(|edge| &edge.points_px).chain(&file.centre_px);
        if points.clone().all(is_number) && file.centre_uncertainty_px.is_none_or(f64::is_finite) {
            return Ok(file);
        }
        let line = text.lines().position(|line| line.contains("nan") || line.contains("inf"));
        Err(error(line.map_or(1, |line| line + 1), "a place holds nan or inf".into()))
    }
}

#[cfg(test)]
mod tests {
    use super::EdgesFile;

    #[test]
    fn what_is_left_out_has_a_meaning_and_faults_have_lines() {
        let file = EdgesFile::parse("[[edge]]\npoints_px = [[1, 2.5], [3, 4]]\n", "e.toml").unwrap();
        assert!(file.edge[0].locate && file.edge[0].name.is_none() && file.frame == 0);
        assert_eq!(file.edge[0].points_px, [[1.0, 2.5], [3.0, 4.0]]);
        let named = EdgesFile { frame: 3, centre_px: Some([1.0, 2.0]), ..file };
        let edge = super::EdgeEntry { name: Some("a \"b\"".into()), locate: false, ..named.edge[0].clone() };
        let named = EdgesFile { edge: vec![named.edge[0].clone(), edge], ..named };
        assert_eq!(EdgesFile::parse(&named.to_toml(), "e.toml").unwrap(), named);
        for (text, part) in [
            ("[[edge]]\npoints = 1", "line 2"),
            ("[[edge]]\nname = \"a\"\npoints_px = [[1, nan], [3, 4]]", "line 3"),
            ("[[edge]]\npoints_px = [[1, 2, 3]]", "line 2"),
            ("centre_px = [1, 2, 3]", "two numbers"),
            ("frame = -1", "line 1"),
        ] {
            let said = EdgesFile::parse(text, "e.toml").unwrap_err().to_string();
            assert!(said.contains(part) && said.contains("e.toml"), "{said}");
        }
    }
}
