//! The 16 characters of a channel code, split into their nine parts (ISO/TS 13499, related document B).

use crate::SensorsError;

/// A channel code in its nine parts. Upper-case letters, digits and `?` (unknown) only.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ChannelCode {
    /// Test object: 1 to 9 vehicles, B fixed barrier, M moving barrier, S sled, and so on.
    pub object: char,
    /// Position within the object; 0 is undefined.
    pub position: char,
    /// Main location, 4 characters.
    pub main_location: String,
    /// First fine location, 2 characters.
    pub fine_1: String,
    /// Second fine location, 2 characters.
    pub fine_2: String,
    /// Third fine location, 2 characters.
    pub fine_3: String,
    /// Physical dimension, 2 characters, such as AC acceleration, DS displacement.
    pub dimension: String,
    /// Direction: X, Y, Z, R resultant, 0 none.
    pub direction: char,
    /// Filter class: A 1000, B 600, C 180, D 60, P pre-filtered, 0 none.
    pub filter_class: char,
}

impl ChannelCode {
    /// Splits a code at its fixed places.
    ///
    /// # Errors
    /// [`SensorsError::Code`] when there are not exactly 16 characters or one is not an upper-case
    /// letter, a digit or `?`.
    pub fn parse(code: &str) -> Result<Self, SensorsError> {
        let wrong = |problem: String| SensorsError::Code { code: code.to_owned(), problem };
        let n_characters = code.chars().count();
        if n_characters != 16 {
            return Err(wrong(format!("has {n_characters} characters; a channel code has exactly 16")));
        }
        let allowed = |c: char| c.is_ascii_uppercase() || c.is_ascii_digit() || c == '?';
        if let Some((index, odd)) = code.chars().enumerate().find(|&(_, c)| !allowed(c)) {
            return Err(wrong(format!(
                "character {} is \"{odd}\"; use upper-case letters, digits and ?",
                index + 1
            )));
        }
        let part = |from: usize, to: usize| code[from..to].to_owned();
        let single = |at: usize| char::from(code.as_bytes()[at]);
        Ok(Self {
            object: single(0),
            position: single(1),
            main_location: part(2, 6),
            fine_1: part(6, 8),
            fine_2: part(8, 10),
            fine_3: part(10, 12),
            dimension: part(12, 14),
            direction: single(14),
            filter_class: single(15),
        })
    }

    /// Whether the channel is an acceleration.
    #[must_use]
    pub fn is_acceleration(&self) -> bool {
        self.dimension == "AC"
    }
}

impl std::fmt::Display for ChannelCode {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let Self {
            object,
            position,
            main_location,
            fine_1,
            fine_2,
            fine_3,
            dimension,
            direction,
            filter_class,
        } = self;
        write!(
            f,
            "{object}{position}{main_location}{fine_1}{fine_2}{fine_3}{dimension}{direction}{filter_class}"
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn published_codes_split_at_their_places() {
        // Codes seen in public crash data; order and widths of the parts: ISO/TS 13499, related document B 1.4.
        for (code, parts) in [
            ("10CVEHCG0000ACXD", "1|0|CVEH|CG|00|00|AC|X|D"),
            ("10SIMELE00INACXD", "1|0|SIME|LE|00|IN|AC|X|D"),
            ("S0SLED000000ACXD", "S|0|SLED|00|00|00|AC|X|D"),
            ("11HEAD0000H3ACXA", "1|1|HEAD|00|00|H3|AC|X|A"),
            ("D0TIBI00CCPIANYC", "D|0|TIBI|00|CC|PI|AN|Y|C"),
        ] {
            let split = ChannelCode::parse(code).unwrap();
            let joined = format!(
                "{}|{}|{}|{}|{}|{}|{}|{}|{}",
                split.object,
                split.position,
                split.main_location,
                split.fine_1,
                split.fine_2,
                split.fine_3,
                split.dimension,
                split.direction,
                split.filter_class
            );
            assert_eq!(joined, parts);
            assert_eq!(split.to_string(), code);
        }
        assert!(ChannelCode::parse("10CVEHCG0000ACXD").unwrap().is_acceleration());
        assert!(!ChannelCode::parse("D0TIBI00CCPIANYC").unwrap().is_acceleration());
    }

    #[test]
    fn odd_codes_are_refused_with_the_place() {
        for (code, word) in [
            ("10CVEHCG0000ACX", "15 characters"),
            ("", "0 characters"),
            ("10CVEHCG0000ACXD0", "17 characters"),
            ("10cVEHCG0000ACXD", "character 3"),
            ("10CVEHCG0000ACXü", "character 16"),
        ] {
            assert!(ChannelCode::parse(code).unwrap_err().to_string().contains(word), "{code}");
        }
    }
}
