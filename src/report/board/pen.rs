//! Symbols of a circuit in SVG: lines, resistors, capacitors, diodes, boxes, words.

use std::fmt::Write as _;

/// Draws by appending to one SVG. Everything is in pixels, y downwards.
pub struct Pen {
    body: String,
}

/// Which way a two-terminal part lies.
#[derive(Clone, Copy, PartialEq, Eq)]
pub enum Lie {
    /// From left to right, its label above it.
    Across,
    /// From above to below, its label at its right.
    Down,
}

/// Length of a part from one terminal to the other.
pub const PART: f64 = 60.0;

impl Pen {
    pub fn new() -> Self {
        Self {
            body: String::new(),
        }
    }

    /// The whole drawing with its title for those who cannot see it.
    pub fn finish(self, width: f64, height: f64, title: &str) -> String {
        format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {width} {height}\" width=\"{width}\" height=\"{height}\" role=\"img\" font-family=\"sans-serif\" font-size=\"12\">\n<title>{}</title>\n<rect width=\"100%\" height=\"100%\" fill=\"#ffffff\"/>\n<g fill=\"none\" stroke=\"#1b1b1b\" stroke-width=\"1.5\">\n{}</g>\n</svg>\n",
            escaped(title),
            self.body
        )
    }

    pub fn wire(&mut self, points: &[(f64, f64)]) {
        let points: Vec<String> = points.iter().map(|(x, y)| format!("{x},{y}")).collect();
        let _ = writeln!(self.body, "<polyline points=\"{}\"/>", points.join(" "));
    }

    /// Where wires that cross are joined.
    pub fn joint(&mut self, x: f64, y: f64) {
        let _ = writeln!(
            self.body,
            "<circle cx=\"{x}\" cy=\"{y}\" r=\"3\" fill=\"#1b1b1b\"/>"
        );
    }

    pub fn text(&mut self, x: f64, y: f64, words: &str, anchor: &str) {
        let _ = writeln!(
            self.body,
            "<text x=\"{x}\" y=\"{y}\" text-anchor=\"{anchor}\" fill=\"#1b1b1b\" stroke=\"none\">{}</text>",
            escaped(words)
        );
    }

    pub fn frame(&mut self, (x, y): (f64, f64), (width, height): (f64, f64), name: &str) {
        let _ = writeln!(
            self.body,
            "<rect x=\"{x}\" y=\"{y}\" width=\"{width}\" height=\"{height}\" rx=\"4\" fill=\"#f4f4f0\"/>"
        );
        self.text(x + width / 2.0, y - 6.0, name, "middle");
    }

    fn label(&mut self, (x, y): (f64, f64), lie: Lie, words: &str) {
        match lie {
            Lie::Across => self.text(x + PART / 2.0, y - 9.0, words, "middle"),
            Lie::Down => self.text(x + 11.0, y + PART / 2.0 + 4.0, words, "start"),
        }
    }

    /// A resistor from (x, y) on, [`PART`] long.
    pub fn resistor(&mut self, x: f64, y: f64, lie: Lie, words: &str) {
        let (width, height) = match lie {
            Lie::Across => (36.0, 12.0),
            Lie::Down => (12.0, 36.0),
        };
        let (left, top) = match lie {
            Lie::Across => (x + 12.0, y - 6.0),
            Lie::Down => (x - 6.0, y + 12.0),
        };
        match lie {
            Lie::Across => {
                self.wire(&[(x, y), (left, y)]);
                self.wire(&[(left + width, y), (x + PART, y)]);
            }
            Lie::Down => {
                self.wire(&[(x, y), (x, top)]);
                self.wire(&[(x, top + height), (x, y + PART)]);
            }
        }
        let _ = writeln!(
            self.body,
            "<rect x=\"{left}\" y=\"{top}\" width=\"{width}\" height=\"{height}\" fill=\"#ffffff\"/>"
        );
        self.label((x, y), lie, words);
    }

    /// A resistor from a wire at (x, y) down to ground.
    pub fn down(&mut self, x: f64, y: f64, words: &str) {
        self.resistor(x, y, Lie::Down, words);
        self.ground(x, y + PART);
        self.joint(x, y);
    }

    pub fn capacitor(&mut self, x: f64, y: f64, lie: Lie, words: &str) {
        let middle = PART / 2.0;
        match lie {
            Lie::Across => {
                self.wire(&[(x, y), (x + middle - 4.0, y)]);
                self.wire(&[(x + middle + 4.0, y), (x + PART, y)]);
                for at in [x + middle - 4.0, x + middle + 4.0] {
                    self.wire(&[(at, y - 10.0), (at, y + 10.0)]);
                }
                self.text(x + middle, y - 15.0, words, "middle");
            }
            Lie::Down => {
                self.wire(&[(x, y), (x, y + middle - 4.0)]);
                self.wire(&[(x, y + middle + 4.0), (x, y + PART)]);
                for at in [y + middle - 4.0, y + middle + 4.0] {
                    self.wire(&[(x - 10.0, at), (x + 10.0, at)]);
                }
                self.label((x + 3.0, y), lie, words);
            }
        }
    }

    /// A diode that lets current through from (x, y) to the right, or upwards when it lies down.
    pub fn diode(&mut self, x: f64, y: f64, lie: Lie, words: &str) {
        let middle = PART / 2.0;
        match lie {
            Lie::Across => {
                self.wire(&[(x, y), (x + PART, y)]);
                let (a, b) = (x + middle - 8.0, x + middle + 8.0);
                let _ = writeln!(
                    self.body,
                    "<polygon points=\"{a},{} {a},{} {b},{y}\" fill=\"#1b1b1b\"/>",
                    y - 8.0,
                    y + 8.0
                );
                self.wire(&[(b, y - 8.0), (b, y + 8.0)]);
            }
            Lie::Down => {
                self.wire(&[(x, y), (x, y + PART)]);
                let (a, b) = (y + middle + 8.0, y + middle - 8.0);
                let _ = writeln!(
                    self.body,
                    "<polygon points=\"{},{a} {},{a} {x},{b}\" fill=\"#1b1b1b\"/>",
                    x - 8.0,
                    x + 8.0
                );
                self.wire(&[(x - 8.0, b), (x + 8.0, b)]);
            }
        }
        self.label((x, y), lie, words);
    }

    /// An N-channel transistor whose drain and source stand at `x`, its gate's wire 30 pixels to the left at `y`.
    pub fn mosfet(&mut self, x: f64, y: f64) {
        let (gate, channel) = (x - 30.0, x - 22.0);
        self.wire(&[(gate, y - 12.0), (gate, y + 12.0)]);
        self.wire(&[(channel, y - 16.0), (channel, y + 16.0)]);
        self.wire(&[(channel, y - 10.0), (x, y - 10.0)]);
        self.wire(&[(channel, y + 10.0), (x, y + 10.0)]);
        self.wire(&[(channel, y), (x, y), (x, y + 10.0)]);
        let _ = writeln!(
            self.body,
            "<polygon points=\"{channel},{y} {},{} {},{}\" fill=\"#1b1b1b\"/>",
            channel + 9.0,
            y - 4.0,
            channel + 9.0,
            y + 4.0
        );
    }

    /// A contact that is open at rest, from (x, y) so far down.
    pub fn contact(&mut self, x: f64, y: f64, long: f64) {
        let (upper, lower) = (y + long * 0.25, y + long * 0.75);
        self.wire(&[(x, y), (x, upper)]);
        self.wire(&[(x, lower), (x, y + long)]);
        self.wire(&[(x - 12.0, upper), (x, lower)]);
    }

    /// What moves together: a dashed line.
    pub fn linked(&mut self, (x, y): (f64, f64), (to_x, to_y): (f64, f64)) {
        let _ = writeln!(
            self.body,
            "<polyline points=\"{x},{y} {to_x},{to_y}\" stroke-dasharray=\"4 3\"/>"
        );
    }

    pub fn ground(&mut self, x: f64, y: f64) {
        for (half, below) in [(10.0, 0.0), (6.0, 4.0), (2.0, 8.0)] {
            self.wire(&[(x - half, y + below), (x + half, y + below)]);
        }
    }

    pub fn supply(&mut self, x: f64, y: f64, words: &str) {
        self.wire(&[(x - 8.0, y), (x + 8.0, y)]);
        self.text(x, y - 5.0, words, "middle");
    }
}

/// Text as XML takes it: what a profile is called is anybody's words.
pub fn escaped(text: &str) -> String {
    let mut safe = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => safe.push_str("&amp;"),
            '<' => safe.push_str("&lt;"),
            '>' => safe.push_str("&gt;"),
            '"' => safe.push_str("&quot;"),
            c if c.is_control() => safe.push(' '),
            c => safe.push(c),
        }
    }
    safe
}
