//! Writes SVG: escaped text, two decimals, a title and a description for those who do not see the drawing.

/// A drawing in the making.
pub(crate) struct Svg {
    text: String,
    number: usize,
}

impl Svg {
    /// An empty drawing; `number` makes its ids unique on the page.
    pub(crate) fn new(class: &str, width: f64, height: f64, title: &str, text: &str, number: usize) -> Self {
        let start = format!(
            "<svg class=\"{class}\" viewBox=\"0 0 {width:.0} {height:.0}\" role=\"img\" \
             aria-labelledby=\"t{number} d{number}\" xmlns=\"http://www.w3.org/2000/svg\">\n\
             <title id=\"t{number}\">{}</title>\n<desc id=\"d{number}\">{}</desc>\n",
            escaped(title),
            escaped(text)
        );
        Self { text: start, number }
    }

    /// Everything until [`Svg::close_group`] is cut at this rectangle.
    pub(crate) fn open_clipped(&mut self, x: f64, y: f64, width: f64, height: f64) {
        let number = self.number;
        self.text.push_str(&format!(
            "<clipPath id=\"c{number}\"><rect x=\"{x:.2}\" y=\"{y:.2}\" width=\"{width:.2}\" height=\"{height:.2}\"/>\
             </clipPath>\n<g clip-path=\"url(#c{number})\">\n"
        ));
    }

    pub(crate) fn close_group(&mut self) {
        self.text.push_str("</g>\n");
    }

    /// Everything until [`Svg::close_group`] is moved by `across` and `down`.
    pub(crate) fn open_moved(&mut self, across: f64, down: f64) {
        self.text.push_str(&format!("<g transform=\"translate({across:.2} {down:.2})\">\n"));
    }

    pub(crate) fn line(&mut self, class: &str, from: (f64, f64), to: (f64, f64)) {
        self.text.push_str(&format!(
            "<line class=\"{class}\" x1=\"{:.2}\" y1=\"{:.2}\" x2=\"{:.2}\" y2=\"{:.2}\"/>\n",
            from.0, from.1, to.0, to.1
        ));
    }

    /// A style sheet inside the drawing.
    pub(crate) fn style(&mut self, style: &str) {
        self.text.push_str(&format!("<style>\n{style}</style>\n"));
    }

    /// A rectangle from the origin.
    pub(crate) fn rectangle(&mut self, class: &str, width: f64, height: f64) {
        self.text
            .push_str(&format!("<rect class=\"{class}\" width=\"{width:.2}\" height=\"{height:.2}\"/>\n"));
    }

    /// Nothing is drawn for an empty path.
    pub(crate) fn path(&mut self, class: &str, path: &str) {
        if !path.is_empty() {
            self.text.push_str(&format!("<path class=\"{class}\" d=\"{path}\"/>\n"));
        }
    }

    pub(crate) fn text(&mut self, class: &str, at: (f64, f64), text: &str) {
        self.text.push_str(&format!(
            "<text class=\"{class}\" x=\"{:.2}\" y=\"{:.2}\">{}</text>\n",
            at.0,
            at.1,
            escaped(text)
        ));
    }

    pub(crate) fn finish(mut self) -> String {
        self.text.push_str("</svg>");
        self.text
    }
}

/// `text` with the five characters that markup gives a meaning replaced; control characters become spaces.
pub(crate) fn escaped(text: &str) -> String {
    let mut safe = String::with_capacity(text.len());
    for letter in text.chars() {
        match letter {
            '&' => safe.push_str("&amp;"),
            '<' => safe.push_str("&lt;"),
            '>' => safe.push_str("&gt;"),
            '"' => safe.push_str("&quot;"),
            '\'' => safe.push_str("&#39;"),
            control if control.is_control() => safe.push(' '),
            plain => safe.push(plain),
        }
    }
    safe
}
