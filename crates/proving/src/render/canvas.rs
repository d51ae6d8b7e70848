//! A picture in the making: grey levels of 8 bits as floats.

/// Grey levels, row after row.
#[derive(Debug, Clone)]
pub(super) struct Canvas {
    pub width: usize,
    pub height: usize,
    pub grey: Vec<f32>,
}
