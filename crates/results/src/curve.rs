//! Curves and panels that the sheet draws as they are: points with bands, gaps, markers.

use serde::{Deserialize, Serialize};

/// One point of a curve.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct CurvePoint {
    /// Seconds from time zero.
    pub time_s: f64,
    /// Value in the panel's unit; `None` is a gap and is drawn as one.
    pub value: Option<f64>,
}

/// The 95 % band about a curve, point for point.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct CurveBand {
    /// Half-width of the 95 % interval at each point; `None` in a gap.
    pub half_width: Vec<Option<f64>>,
}

/// One line in a panel.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Curve {
    /// Legend text, such as "car, film".
    pub label: String,
    /// `film` or `sensor`: decides the line style, never the colour alone.
    pub source: String,
    /// In order of time.
    pub points: Vec<CurvePoint>,
    /// Band, where there is one.
    pub band: Option<CurveBand>,
}

/// A named instant in a panel.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PanelMarker {
    /// Seconds from time zero.
    pub time_s: f64,
    /// Text beside the line.
    pub label: String,
}

/// One diagram over time.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Panel {
    /// Title, such as "Speed along the path".
    pub title: String,
    /// Unit of the values, SI or degrees.
    pub unit: String,
    /// Lines.
    pub curves: Vec<Curve>,
    /// Instants such as contact.
    pub markers: Vec<PanelMarker>,
}
