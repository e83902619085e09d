//! The pen: writes one SVG drawing.
//!
//! No ids are used, so that several drawings can stand inline on one page, and no styles, so that a strict
//! content security policy does not blank them.

use crate::sheet::{Sheet, Tone};

/// A point in the drawing's own units, y downwards.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Point {
    pub(crate) x: f64,
    pub(crate) y: f64,
}

/// Shorthand for a [`Point`].
pub(crate) const fn at(x: f64, y: f64) -> Point {
    Point { x, y }
}

/// Less than this aside and a piece of a line is drawn straight.
const STRAIGHT: f64 = 0.5;

/// An upright rectangle.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Area {
    pub(crate) left: f64,
    pub(crate) top: f64,
    pub(crate) right: f64,
    pub(crate) bottom: f64,
}

impl Area {
    pub(crate) fn width(&self) -> f64 {
        self.right - self.left
    }

    pub(crate) fn height(&self) -> f64 {
        self.bottom - self.top
    }

    /// The same rectangle, each side moved outwards.
    pub(crate) fn grown(&self, by: f64) -> Self {
        Self {
            left: self.left - by,
            top: self.top - by,
            right: self.right + by,
            bottom: self.bottom + by,
        }
    }

    /// Its outline with the corners cut off.
    pub(crate) fn cut_corners(&self, cut: f64) -> [Point; 8] {
        [
            at(self.left + cut, self.top),
            at(self.right - cut, self.top),
            at(self.right, self.top + cut),
            at(self.right, self.bottom - cut),
            at(self.right - cut, self.bottom),
            at(self.left + cut, self.bottom),
            at(self.left, self.bottom - cut),
            at(self.left, self.top + cut),
        ]
    }

    /// The same rectangle elsewhere.
    pub(crate) fn moved(&self, right: f64, down: f64) -> Self {
        Self {
            left: self.left + right,
            top: self.top + down,
            right: self.right + right,
            bottom: self.bottom + down,
        }
    }
}

/// How a line is drawn.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Pen {
    tone: Tone,
    width: f64,
    dashes: Option<&'static str>,
}

impl Pen {
    /// Axes, ticks and outlines of readings.
    pub(crate) const FINE: Self = Self::new(Tone::Ink, 0.8);
    /// The thing the drawing is about.
    pub(crate) const BOLD: Self = Self::new(Tone::Ink, 1.5);
    /// Grid and hatching.
    pub(crate) const HAIR: Self = Self::new(Tone::Rule, 0.5);
    /// Construction lines.
    pub(crate) const DASHED: Self = Self::new(Tone::Ink, 0.6).dashed("3 2.5");
    /// A second curve beside a bold one.
    pub(crate) const BROKEN: Self = Self::new(Tone::Ink, 1.0).dashed("4 2");
    /// Centre lines, long and short.
    pub(crate) const CENTRE: Self = Self::new(Tone::Rule, 0.6).dashed("9 2 2 2");

    /// The same with another width.
    pub(crate) const fn wide(self, width: f64) -> Self {
        Self { width, ..self }
    }

    /// What lies under a line on a photograph, so that it is seen on black as on white.
    pub(crate) const fn on_paper(self) -> Self {
        Self::new(Tone::Paper, self.width + 2.2)
    }

    const fn new(tone: Tone, width: f64) -> Self {
        Self {
            tone,
            width,
            dashes: None,
        }
    }

    const fn dashed(self, dashes: &'static str) -> Self {
        Self {
            dashes: Some(dashes),
            ..self
        }
    }
}

/// Which end of a text its point holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Anchor {
    Start,
    Middle,
    End,
}

/// One drawing in the making.
#[derive(Debug)]
pub(crate) struct Drawing {
    sheet: Sheet,
    head: String,
    body: String,
}

impl Drawing {
    /// Starts a drawing of a size in CSS pixels; `title` names it to a screen reader.
    pub(crate) fn new(width: f64, height: f64, title: &str, sheet: Sheet) -> Self {
        Self::with_role("img", width, height, title, sheet)
    }

    /// Starts a drawing whose parts have names of their own, see [`Drawing::part`].
    pub(crate) fn of_parts(width: f64, height: f64, title: &str, sheet: Sheet) -> Self {
        Self::with_role("group", width, height, title, sheet)
    }

    fn with_role(role: &str, width: f64, height: f64, title: &str, sheet: Sheet) -> Self {
        let (w, h, name) = (number(width), number(height), escape(title));
        let head = format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{w}\" height=\"{h}\" viewBox=\"0 0 {w} {h}\" \
             role=\"{role}\" aria-label=\"{name}\" font-family=\"{}\" font-size=\"11\" fill=\"{}\">\n<title>{name}</title>\n",
            sheet.font(),
            sheet.tone(Tone::Ink),
        );
        Self {
            sheet,
            head,
            body: String::new(),
        }
    }

    /// Draws a part of the whole that a screen reader tells in `words`, and that leads to `link` where there is one.
    ///
    /// Only links within the house are drawn: to an address that begins with `/`, `?` or `#`.
    pub(crate) fn part(&mut self, words: &str, link: Option<&str>, draw: impl FnOnce(&mut Self)) {
        let link = link.filter(|l| l.starts_with(['/', '?', '#']) && !l.starts_with("//"));
        if let Some(link) = link {
            self.body
                .push_str(&format!("<a href=\"{}\">", escape(link)));
        }
        self.body.push_str(&format!(
            "<g role=\"img\"><title>{}</title>\n",
            escape(words)
        ));
        draw(self);
        self.body.push_str("</g>");
        self.body
            .push_str(if link.is_some() { "</a>\n" } else { "\n" });
    }

    /// Lines from row to row as [`crate::layered`] lays them: straight and bent pieces by turns. A bent piece leaves and enters
    /// along the rows' direction: upright, or level when `level`. A piece that several lines share is drawn once.
    pub(crate) fn threads(&mut self, routes: &[Vec<Point>], level: bool, pen: Pen) {
        let mut drawn = std::collections::BTreeSet::new();
        for route in routes {
            let mut path = String::new();
            let mut lifted = true;
            for (i, pair) in route.windows(2).enumerate() {
                let &[from, to] = pair else {
                    continue;
                };
                let piece = piece_of(from, to, level, i % 2 == 0);
                let start = path_of(&[from]);
                if !drawn.insert(format!("{start}{piece}")) {
                    lifted = true;
                    continue;
                }
                if std::mem::take(&mut lifted) {
                    path.push_str(&start);
                }
                path.push_str(&piece);
            }
            if path.is_empty() {
                continue;
            }
            let stroke = self.stroke(pen);
            self.body
                .push_str(&format!("<path d=\"{path}\" fill=\"none\"{stroke}/>\n"));
        }
    }

    pub(crate) fn line(&mut self, from: Point, to: Point, pen: Pen) {
        self.polyline(&[from, to], pen);
    }

    pub(crate) fn polyline(&mut self, points: &[Point], pen: Pen) {
        if points.len() < 2 {
            return;
        }
        let path = path_of(points);
        let stroke = self.stroke(pen);
        self.body
            .push_str(&format!("<path d=\"{path}\" fill=\"none\"{stroke}/>\n"));
    }

    /// A closed outline, filled with a tone.
    pub(crate) fn outline(&mut self, points: &[Point], fill: Tone, pen: Pen) {
        if points.len() < 3 {
            return;
        }
        let path = path_of(points);
        let (stroke, fill) = (self.stroke(pen), self.sheet.tone(fill));
        self.body
            .push_str(&format!("<path d=\"{path}Z\" fill=\"{fill}\"{stroke}/>\n"));
    }

    pub(crate) fn rect(&mut self, area: &Area, fill: Tone, pen: Pen) {
        let corners = [
            at(area.left, area.top),
            at(area.right, area.top),
            at(area.right, area.bottom),
            at(area.left, area.bottom),
        ];
        self.outline(&corners, fill, pen);
    }

    pub(crate) fn circle(&mut self, centre: Point, radius: f64, fill: Tone, pen: Pen) {
        let (stroke, fill) = (self.stroke(pen), self.sheet.tone(fill));
        self.body.push_str(&format!(
            "<circle cx=\"{}\" cy=\"{}\" r=\"{}\" fill=\"{fill}\"{stroke}/>\n",
            number(centre.x),
            number(centre.y),
            number(radius),
        ));
    }

    /// Rules an area with slanting hairlines `gap` apart.
    pub(crate) fn hatch(&mut self, area: &Area, gap: f64) {
        let path = hatching(area, gap);
        if path.is_empty() {
            return;
        }
        let stroke = self.stroke(Pen::HAIR);
        self.body
            .push_str(&format!("<path d=\"{path}\" fill=\"none\"{stroke}/>\n"));
    }

    pub(crate) fn text(&mut self, place: Point, anchor: Anchor, size: f64, words: &str) {
        self.write_text(place, anchor, size, words, "");
    }

    /// Text on a photograph, with the sheet's colour round its letters.
    pub(crate) fn text_on_paper(&mut self, place: Point, anchor: Anchor, size: f64, words: &str) {
        let paper = self.sheet.tone(Tone::Paper);
        let round = format!(" stroke=\"{paper}\" stroke-width=\"3\" paint-order=\"stroke\"");
        self.write_text(place, anchor, size, words, &round);
    }

    /// A picture of the house by its address, or one that is in the address itself; known by `id` to [`Drawing::picture_again`].
    pub(crate) fn picture(&mut self, area: &Area, href: &str, id: &str) {
        let is_ours = href.starts_with('/') && !href.starts_with("//");
        if !is_ours && !href.starts_with("data:image/") {
            return;
        }
        self.body.push_str(&format!(
            "<image id=\"{id}\" x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\" href=\"{}\" preserveAspectRatio=\"none\"/>\n",
            number(area.left),
            number(area.top),
            number(area.width()),
            number(area.height()),
            escape(href)
        ));
    }

    /// A picture that stands elsewhere already, enlarged `times` about the sheet's corner and then moved.
    pub(crate) fn picture_again(&mut self, id: &str, to: Point, times: f64) {
        self.body.push_str(&format!(
            "<use href=\"#{id}\" transform=\"translate({} {}) scale({})\"/>\n",
            number(to.x),
            number(to.y),
            number(times)
        ));
    }

    /// Draws within an area alone: what reaches beyond it is cut off.
    pub(crate) fn window(&mut self, area: &Area, draw: impl FnOnce(&mut Self)) {
        let [left, top] = [area.left, area.top].map(number);
        let [width, height] = [area.width(), area.height()].map(number);
        self.body.push_str(&format!(
            "<svg x=\"{left}\" y=\"{top}\" width=\"{width}\" height=\"{height}\" viewBox=\"{left} {top} {width} {height}\">\n"
        ));
        draw(self);
        self.body.push_str("</svg>\n");
    }

    /// Text that reads upwards, for the title of an upright axis.
    pub(crate) fn text_upward(&mut self, place: Point, anchor: Anchor, size: f64, words: &str) {
        let turn = format!(
            " transform=\"rotate(-90 {} {})\"",
            number(place.x),
            number(place.y)
        );
        self.write_text(place, anchor, size, words, &turn);
    }

    fn write_text(&mut self, place: Point, anchor: Anchor, size: f64, words: &str, extra: &str) {
        let anchor = match anchor {
            Anchor::Start => "",
            Anchor::Middle => " text-anchor=\"middle\"",
            Anchor::End => " text-anchor=\"end\"",
        };
        self.body.push_str(&format!(
            "<text x=\"{}\" y=\"{}\" font-size=\"{}\"{anchor}{extra}>{}</text>\n",
            number(place.x),
            number(place.y),
            number(size),
            escape(words),
        ));
    }

    fn stroke(&self, pen: Pen) -> String {
        let dashes = pen
            .dashes
            .map(|d| format!(" stroke-dasharray=\"{d}\""))
            .unwrap_or_default();
        format!(
            " stroke=\"{}\" stroke-width=\"{}\"{dashes}",
            self.sheet.tone(pen.tone),
            number(pen.width)
        )
    }

    pub(crate) fn finish(self) -> String {
        self.head + &self.body + "</svg>\n"
    }
}

/// A piece of a line, after the point where it starts.
fn piece_of(from: Point, to: Point, level: bool, straight: bool) -> String {
    let aside = if level { to.y - from.y } else { to.x - from.x };
    if straight || aside.abs() < STRAIGHT {
        return path_of(&[to]).replace('M', "L");
    }
    let (a, b) = if level {
        let middle = f64::midpoint(from.x, to.x);
        (at(middle, from.y), at(middle, to.y))
    } else {
        let middle = f64::midpoint(from.y, to.y);
        (at(from.x, middle), at(to.x, middle))
    };
    path_of(&[a, b, to]).replace('M', "C").replace('L', " ")
}

fn path_of(points: &[Point]) -> String {
    let mut path = String::with_capacity(points.len() * 12);
    for (i, p) in points.iter().enumerate() {
        path.push(if i == 0 { 'M' } else { 'L' });
        path.push_str(&number(p.x));
        path.push(' ');
        path.push_str(&number(p.y));
    }
    path
}

/// Lines rising to the right, cut at the area's edges.
fn hatching(area: &Area, gap: f64) -> String {
    let (w, h) = (area.width(), area.height());
    let mut path = String::new();
    if !(w > 0.0 && h > 0.0 && gap > 0.0) {
        return path;
    }
    // Ruled from the sheet's origin, so that the lines of neighbouring areas meet.
    let first = ((area.left + area.top) / gap).ceil();
    let last = ((area.right + area.bottom) / gap).floor();
    let mut k = first;
    while k <= last {
        let sum = k * gap;
        let x0 = (sum - area.bottom).max(area.left);
        let x1 = (sum - area.top).min(area.right);
        if x1 > x0 {
            path.push_str(&path_of(&[at(x0, sum - x0), at(x1, sum - x1)]));
        }
        k += 1.0;
    }
    path
}

/// A coordinate to a hundredth, without trailing zeros.
pub(crate) fn number(value: f64) -> String {
    let value = if value.is_finite() { value } else { 0.0 };
    let text = format!("{value:.2}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    match text {
        "-0" | "" => "0".to_owned(),
        _ => text.to_owned(),
    }
}

/// Text for XML: markup escaped, and the characters that XML 1.0 forbids left out.
pub(crate) fn escape(words: &str) -> String {
    let mut out = String::with_capacity(words.len());
    for c in words.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\t' | '\n' | '\r' => out.push(' '),
            '\u{0}'..='\u{1f}' | '\u{fffe}' | '\u{ffff}' => {}
            _ => out.push(c),
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_short_at_their_borders() {
        let cases = [
            (0.0, "0"),
            (-0.001, "0"),
            (0.005_1, "0.01"),
            (10.0, "10"),
            (100.5, "100.5"),
            (-3.25, "-3.25"),
            (f64::NAN, "0"),
        ];
        for (value, want) in cases {
            assert_eq!(number(value), want, "{value}");
        }
    }

    #[test]
    fn markup_in_words_is_escaped() {
        assert_eq!(
            escape("<a href=\"&\">\u{0}"),
            "&lt;a href=&quot;&amp;&quot;&gt;"
        );
    }

    #[test]
    fn hatching_stays_inside_its_area() {
        let area = Area {
            left: 3.0,
            top: 5.0,
            right: 40.0,
            bottom: 17.0,
        };
        let path = hatching(&area, 4.0);
        assert!(path.len() > 20);
        for pair in path.split(['M', 'L']).filter(|p| !p.is_empty()) {
            let (x, y) = pair.split_once(' ').unwrap();
            let (x, y): (f64, f64) = (x.parse().unwrap(), y.parse().unwrap());
            assert!(
                (2.99..=40.01).contains(&x) && (4.99..=17.01).contains(&y),
                "{x} {y}"
            );
        }
    }
}
