//! The picture strip: a camera at a named instant, with marks drawn twice (dark under light) and a scale bar.

use super::picture::{Encoded, encode};
use crate::ReportError;
use crate::display::{ms_text, typeset};
use crate::plot::escaped;
use crate::rounding::at_place;
use filmgauge_quantities::Length;
use filmgauge_results::{StripPicture, UnitSystem};
use serde::Serialize;

/// One picture with its caption.
#[derive(Serialize)]
pub(crate) struct PictureView {
    pub(crate) camera: String,
    pub(crate) frame: u32,
    pub(crate) after_contact: String,
    pub(crate) svg: String,
}

pub(super) fn pictures(strip: &[StripPicture], system: UnitSystem) -> Result<Vec<PictureView>, ReportError> {
    strip.iter().enumerate().map(|(number, picture)| view(number, picture, system)).collect()
}

fn view(number: usize, picture: &StripPicture, system: UnitSystem) -> Result<PictureView, ReportError> {
    let after_contact = after_contact_text(picture.after_contact_s);
    let stored = picture.picture.view();
    let size = Size::of(stored.width(), stored.height());
    let encoded = encode(&picture.picture)?;
    let title = format!("Camera {}, frame {}, {after_contact}", picture.camera, picture.frame);
    let svg = drawing(number, &title, picture, &encoded, size, system);
    Ok(PictureView { camera: picture.camera.clone(), frame: picture.frame, after_contact, svg })
}

fn after_contact_text(after_contact_s: f64) -> String {
    if after_contact_s < 0.0 {
        format!("{} ms before contact", ms_text(-after_contact_s))
    } else {
        format!("{} ms after contact", ms_text(after_contact_s))
    }
}

#[derive(Clone, Copy)]
struct Size {
    width: f64,
    height: f64,
    /// One unit of drawing size: pictures of any width get marks and letters alike to the eye.
    step: f64,
}

impl Size {
    #[expect(clippy::cast_precision_loss, reason = "pictures are far smaller than 2^53 px")]
    fn of(width: usize, height: usize) -> Self {
        Self { width: width as f64, height: height as f64, step: width as f64 / 100.0 }
    }
}

#[expect(clippy::cast_precision_loss, reason = "pictures are far smaller than 2^53 px")]
fn drawing(
    number: usize,
    title: &str,
    picture: &StripPicture,
    encoded: &Encoded,
    size: Size,
    system: UnitSystem,
) -> String {
    let names: Vec<&str> = picture.marks.iter().map(|(target, _, _)| target.as_str()).collect();
    let told =
        if names.is_empty() { "No marks.".to_owned() } else { format!("Marks: {}.", names.join(", ")) };
    let (covers_x, covers_y) = (encoded.covers_px.0 as f64, encoded.covers_px.1 as f64);
    let mut svg = format!(
        "<svg class=\"picture\" viewBox=\"0 0 {:.0} {:.0}\" role=\"img\" aria-labelledby=\"pt{number} pd{number}\" \
         xmlns=\"http://www.w3.org/2000/svg\">\n<title id=\"pt{number}\">{}</title>\n<desc id=\"pd{number}\">{}</desc>\n\
         <image width=\"{covers_x:.0}\" height=\"{covers_y:.0}\" preserveAspectRatio=\"none\" \
         href=\"data:image/png;base64,{}\"/>\n",
        size.width,
        size.height,
        escaped(title),
        escaped(&told),
        encoded.base64
    );
    for (target, x_px, y_px) in &picture.marks {
        // A pixel's centre has whole coordinates; in the drawing its corner does.
        svg.push_str(&mark(target, x_px + 0.5, y_px + 0.5, size));
    }
    svg.push_str(&scale_bar(picture.metres_per_px, size, system).unwrap_or_default());
    svg + "</svg>"
}

fn mark(target: &str, x: f64, y: f64, size: Size) -> String {
    let (radius, letters) = (1.05 * size.step, 2.5 * size.step);
    // The label goes below where there is no room above, and leftwards near the right edge.
    let label_y = if y > 4.0 * size.step { y - 1.6 * radius } else { y + 1.6 * radius + 0.8 * letters };
    let anchor = if x > 92.0 * size.step { "end" } else { "start" };
    let shift = if anchor == "end" { -0.4 * radius } else { 0.4 * radius };
    let mut text = String::new();
    for (class, width) in [("under", 0.55 * size.step), ("over", 0.22 * size.step)] {
        text.push_str(&format!(
            "<circle class=\"{class}\" cx=\"{x:.2}\" cy=\"{y:.2}\" r=\"{radius:.2}\" stroke-width=\"{width:.2}\"/>\n"
        ));
    }
    text.push_str(&format!(
        "<text class=\"on-film\" x=\"{:.2}\" y=\"{label_y:.2}\" font-size=\"{letters:.2}\" stroke-width=\"{:.2}\" \
         text-anchor=\"{anchor}\">{}</text>\n",
        x + shift,
        0.35 * size.step,
        escaped(target)
    ));
    text
}

/// A bar of a round length, a tenth to a quarter of the picture's width; `None` when the scale is not known.
fn scale_bar(metres_per_px: f64, size: Size, system: UnitSystem) -> Option<String> {
    if metres_per_px <= 0.0 {
        return None;
    }
    let across = Length::from_m(0.25 * size.width * metres_per_px);
    let (unit, most) = match system {
        UnitSystem::Si => ("m", across.as_m()),
        UnitSystem::Us => ("ft", across.as_ft()),
    };
    let (length, place) = round_below(most)?;
    let bar_px = 0.25 * size.width * length / most;
    let (left, bottom) = (2.5 * size.step, size.height - 2.2 * size.step);
    let mut text = String::new();
    for (class, width) in [("under", 0.9 * size.step), ("over", 0.45 * size.step)] {
        text.push_str(&format!(
            "<line class=\"{class}\" x1=\"{left:.2}\" y1=\"{bottom:.2}\" x2=\"{:.2}\" y2=\"{bottom:.2}\" \
             stroke-width=\"{width:.2}\"/>\n",
            left + bar_px
        ));
    }
    text.push_str(&format!(
        "<text class=\"on-film\" x=\"{:.2}\" y=\"{:.2}\" font-size=\"{:.2}\" stroke-width=\"{:.2}\">{} {unit}</text>\n",
        // Beside the bar: above it, marks of the ground are as likely as not.
        left + bar_px + 0.9 * size.step,
        bottom + 0.8 * size.step,
        2.5 * size.step,
        0.35 * size.step,
        typeset(&at_place(length, place.min(0)))
    ));
    Some(text)
}

/// The greatest of 1, 2, 5 times a power of ten that is not above `most`, and that power.
pub(crate) fn round_below(most: f64) -> Option<(f64, i32)> {
    let exponent = format!("{most:e}").split_once('e')?.1.parse::<i32>().ok()?;
    let power = 10_f64.powi(exponent);
    let mantissa = [5.0, 2.0, 1.0].into_iter().find(|mantissa| mantissa * power <= most)?;
    Some((mantissa * power, exponent))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn bars_have_round_lengths() {
        let size = Size::of(1280, 448);
        let bar = scale_bar(0.0075, size, UnitSystem::Si).unwrap();
        assert!(bar.contains(">2 m<"), "{bar}");
        assert!(bar.contains("x1=\"32.00\"") && bar.contains("x2=\"298.67\""), "2 m are 266.67 px: {bar}");
        assert!(scale_bar(0.0075, size, UnitSystem::Us).unwrap().contains(">5 ft<"));
        assert!(scale_bar(0.0001, size, UnitSystem::Si).unwrap().contains(">0.02 m<"));
        assert!(scale_bar(0.0, size, UnitSystem::Si).is_none());
    }

    #[test]
    fn instants_before_contact_say_so() {
        assert_eq!(after_contact_text(-0.02), "20.0 ms before contact");
        assert_eq!(after_contact_text(0.0), "0.0 ms after contact");
    }
}
