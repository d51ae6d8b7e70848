//! Ids of cameras, targets, bodies and channels: short names that people type.

use serde::{Deserialize, Serialize};
use std::sync::Arc;

/// Why a text is not an id.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("\"{text}\" cannot be an id: use 1 to 64 letters, digits, '-', '_', '.' or ':'")]
pub struct IdError {
    /// The text as given.
    pub text: String,
}

fn checked(text: &str) -> Result<Arc<str>, IdError> {
    let fits = !text.is_empty()
        && text.len() <= 64
        && text.chars().all(|c| c.is_ascii_alphanumeric() || matches!(c, '-' | '_' | '.' | ':'));
    if fits { Ok(Arc::from(text)) } else { Err(IdError { text: text.to_owned() }) }
}

macro_rules! id {
    ($(#[$doc:meta])* $name:ident) => {
        $(#[$doc])*
        #[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
        #[serde(try_from = "String", into = "String")]
        pub struct $name(Arc<str>);

        impl $name {
            /// The id, when `text` can be one.
            ///
            /// # Errors
            /// [`IdError`] when the text is empty, longer than 64 or has other characters than
            /// ASCII letters, digits, `-`, `_`, `.` and `:`.
            pub fn new(text: &str) -> Result<Self, IdError> { checked(text).map(Self) }

            /// The id as text.
            #[must_use]
            pub fn as_str(&self) -> &str { &self.0 }
        }

        impl TryFrom<String> for $name {
            type Error = IdError;
            fn try_from(text: String) -> Result<Self, IdError> { Self::new(&text) }
        }
        impl From<$name> for String {
            fn from(id: $name) -> String { id.0.as_ref().to_owned() }
        }
        impl std::fmt::Display for $name {
            fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result { f.pad(&self.0) }
        }
    };
}

id!(
    /// One camera of the test.
    CameraId
);
id!(
    /// One painted or stuck target, within one camera.
    TargetId
);
id!(
    /// One rigid body.
    BodyId
);
id!(
    /// One sensor channel.
    ChannelId
);

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ids_take_plain_names_only() {
        assert_eq!(TargetId::new("C1").unwrap().as_str(), "C1");
        assert!(BodyId::new("").is_err());
        assert!(BodyId::new("../car").is_err());
        assert!(CameraId::new(&"x".repeat(65)).is_err());
    }
}
