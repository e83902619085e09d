//! The part as DXF, for wire erosion, laser or water jet.
//!
//! Text of release 2000 (`AC1015`): the oldest that knows light polylines and `$INSUNITS`, and that every reader since takes. Edges are closed polylines
//! whose arcs are true (bulges), round openings circles; other curves are chords within 1 µm. What is to be cut and what only explains stand on layers of
//! their own.

use fettle_measure::gear::part::{Dimensions, Part, Shape};
use fettle_measure::gear::{Curve, Outline, Point};

use super::scene::Bounds;
use super::{OFF_MM, decimal};

const PLACES: usize = 6;
/// Centre lines stand out this far.
const OUT_MM: f64 = 1.0;
const MODEL_SPACE: &str = "1F";
const PAPER_SPACE: &str = "1B";
/// Handles below stand for what every file has.
const FIRST_HANDLE: u32 = 0x100;

const OUTLINE: &str = "OUTLINE";
const BORE: &str = "BORE";
const HOLES: &str = "HOLES";
const CENTRE: &str = "CENTRE";
/// Name, colour number and line type.
const LAYERS: [(&str, u8, &str); 5] = [
    ("0", 7, "Continuous"),
    (OUTLINE, 7, "Continuous"),
    (BORE, 5, "Continuous"),
    (HOLES, 5, "Continuous"),
    (CENTRE, 1, "CENTER"),
];

/// The part's edges on the layers `OUTLINE`, `BORE` and `HOLES` (slots too); on `CENTRE` the pitch circle or line and the middles of openings, not to
/// be cut.
#[must_use]
pub fn dxf(part: &Part) -> String {
    let mut dxf = Dxf::default();
    header(&mut dxf, part);
    tables(&mut dxf);
    blocks(&mut dxf);
    dxf.section("ENTITIES");
    dxf.polyline(OUTLINE, &part.outer);
    for opening in &part.inner {
        match opening.shape {
            Shape::Bore(_) => dxf.circle(BORE, opening.shape.middle(), opening.shape.radius_mm()),
            Shape::Hole(_) => dxf.circle(HOLES, opening.shape.middle(), opening.shape.radius_mm()),
            Shape::Slot(_) => dxf.polyline(HOLES, &opening.outline),
        }
    }
    centre_lines(&mut dxf, part);
    dxf.pair(0, "ENDSEC");
    objects(&mut dxf);
    dxf.pair(0, "EOF");
    // The seed of handles stands in the header, and is known only now.
    let seed = format!("{:X}", FIRST_HANDLE + dxf.handles);
    dxf.text.replacen(SEED, &seed, 1)
}

const SEED: &str = "HANDSEED-TO-COME";

fn header(dxf: &mut Dxf, part: &Part) {
    let bounds = Bounds::of(&part.outer);
    dxf.section("HEADER");
    dxf.pair(9, "$ACADVER");
    dxf.pair(1, "AC1015");
    dxf.pair(9, "$DWGCODEPAGE");
    dxf.pair(3, "ANSI_1252");
    dxf.pair(9, "$INSUNITS");
    dxf.pair(70, "4");
    dxf.pair(9, "$MEASUREMENT");
    dxf.pair(70, "1");
    dxf.pair(9, "$LUNITS");
    dxf.pair(70, "2");
    for (name, [x, y]) in [("$EXTMIN", bounds.least), ("$EXTMAX", bounds.most)] {
        dxf.pair(9, name);
        dxf.real(10, x);
        dxf.real(20, y);
        dxf.real(30, 0.0);
    }
    dxf.pair(9, "$HANDSEED");
    dxf.pair(5, SEED);
    dxf.pair(0, "ENDSEC");
    dxf.section("CLASSES");
    dxf.pair(0, "ENDSEC");
}

fn tables(dxf: &mut Dxf) {
    dxf.section("TABLES");
    dxf.table("VPORT", "8", 0);
    dxf.pair(0, "ENDTAB");
    dxf.table("LTYPE", "5", 4);
    let line_types: [(&str, &str, &[f64]); 4] = [
        ("ByBlock", "", &[]),
        ("ByLayer", "", &[]),
        ("Continuous", "Solid line", &[]),
        ("CENTER", "Center ____ _ ____", &[4.0, -0.8, 0.8, -0.8]),
    ];
    for (name, words, dashes) in line_types {
        dxf.record("LTYPE", "5", "AcDbLinetypeTableRecord", name);
        dxf.pair(70, "0");
        dxf.pair(3, words);
        dxf.pair(72, "65");
        dxf.pair(73, &dashes.len().to_string());
        dxf.real(40, dashes.iter().map(|dash| dash.abs()).sum());
        for dash in dashes {
            dxf.real(49, *dash);
            dxf.pair(74, "0");
        }
    }
    dxf.pair(0, "ENDTAB");
    dxf.table("LAYER", "2", LAYERS.len());
    for (name, colour, line_type) in LAYERS {
        dxf.record("LAYER", "2", "AcDbLayerTableRecord", name);
        dxf.pair(70, "0");
        dxf.pair(62, &colour.to_string());
        dxf.pair(6, line_type);
    }
    dxf.pair(0, "ENDTAB");
    dxf.table("STYLE", "3", 1);
    dxf.record("STYLE", "3", "AcDbTextStyleTableRecord", "Standard");
    dxf.pair(70, "0");
    for (code, value) in [(40, 0.0), (41, 1.0), (50, 0.0)] {
        dxf.real(code, value);
    }
    dxf.pair(71, "0");
    dxf.real(42, 2.5);
    dxf.pair(3, "txt");
    dxf.pair(4, "");
    dxf.pair(0, "ENDTAB");
    for (name, handle) in [("VIEW", "6"), ("UCS", "7")] {
        dxf.table(name, handle, 0);
        dxf.pair(0, "ENDTAB");
    }
    dxf.table("APPID", "9", 1);
    dxf.record("APPID", "9", "AcDbRegAppTableRecord", "ACAD");
    dxf.pair(70, "0");
    dxf.pair(0, "ENDTAB");
    dxf.table("DIMSTYLE", "A", 1);
    dxf.pair(100, "AcDbDimStyleTable");
    dxf.pair(71, "1");
    dxf.pair(0, "DIMSTYLE");
    let handle = dxf.handle();
    dxf.pair(105, &handle);
    dxf.pair(330, "A");
    dxf.pair(100, "AcDbSymbolTableRecord");
    dxf.pair(100, "AcDbDimStyleTableRecord");
    dxf.pair(2, "Standard");
    dxf.pair(70, "0");
    dxf.pair(0, "ENDTAB");
    dxf.table("BLOCK_RECORD", "1", 2);
    for (name, handle) in [("*Model_Space", MODEL_SPACE), ("*Paper_Space", PAPER_SPACE)] {
        dxf.pair(0, "BLOCK_RECORD");
        dxf.pair(5, handle);
        dxf.pair(330, "1");
        dxf.pair(100, "AcDbSymbolTableRecord");
        dxf.pair(100, "AcDbBlockTableRecord");
        dxf.pair(2, name);
    }
    dxf.pair(0, "ENDTAB");
    dxf.pair(0, "ENDSEC");
}

fn blocks(dxf: &mut Dxf) {
    dxf.section("BLOCKS");
    for (name, owner) in [("*Model_Space", MODEL_SPACE), ("*Paper_Space", PAPER_SPACE)] {
        dxf.entity("BLOCK", owner, "0");
        dxf.pair(100, "AcDbBlockBegin");
        dxf.pair(2, name);
        dxf.pair(70, "0");
        for code in [10, 20, 30] {
            dxf.real(code, 0.0);
        }
        dxf.pair(3, name);
        dxf.pair(1, "");
        dxf.entity("ENDBLK", owner, "0");
        dxf.pair(100, "AcDbBlockEnd");
    }
    dxf.pair(0, "ENDSEC");
}

fn objects(dxf: &mut Dxf) {
    dxf.section("OBJECTS");
    dxf.pair(0, "DICTIONARY");
    dxf.pair(5, "C");
    dxf.pair(330, "0");
    dxf.pair(100, "AcDbDictionary");
    dxf.pair(281, "1");
    dxf.pair(3, "ACAD_GROUP");
    dxf.pair(350, "D");
    dxf.pair(0, "DICTIONARY");
    dxf.pair(5, "D");
    dxf.pair(330, "C");
    dxf.pair(100, "AcDbDictionary");
    dxf.pair(281, "1");
    dxf.pair(0, "ENDSEC");
}

fn centre_lines(dxf: &mut Dxf, part: &Part) {
    let cross = |dxf: &mut Dxf, [x, y]: Point, out: f64| {
        dxf.line(CENTRE, [x - out, y], [x + out, y]);
        dxf.line(CENTRE, [x, y - out], [x, y + out]);
    };
    match part.dimensions {
        Dimensions::Gear(of) => {
            dxf.circle(CENTRE, [0.0; 2], of.pitch_diameter_mm / 2.0);
            cross(dxf, [0.0; 2], of.tip_diameter_mm / 2.0 + OUT_MM);
        }
        Dimensions::Rack(of) => {
            dxf.line(CENTRE, [-OUT_MM, 0.0], [of.length_mm + OUT_MM, 0.0]);
        }
    }
    for opening in &part.inner {
        let shape = opening.shape;
        match shape {
            Shape::Bore(_) => {}
            Shape::Hole(_) => cross(dxf, shape.middle(), shape.radius_mm() + OUT_MM),
            Shape::Slot(_) => {
                for end in shape.ends() {
                    cross(dxf, end, shape.radius_mm() + OUT_MM);
                }
            }
        }
    }
}

/// Writes pairs of a group code and its value.
#[derive(Default)]
struct Dxf {
    text: String,
    handles: u32,
}

impl Dxf {
    fn pair(&mut self, code: u32, value: &str) {
        self.text.push_str(&format!("{code}\n{value}\n"));
    }

    fn real(&mut self, code: u32, value: f64) {
        let text = decimal(value, PLACES);
        if text.contains('.') {
            self.pair(code, &text);
        } else {
            self.pair(code, &format!("{text}.0"));
        }
    }

    fn handle(&mut self) -> String {
        let handle = format!("{:X}", FIRST_HANDLE + self.handles);
        self.handles += 1;
        handle
    }

    fn section(&mut self, name: &str) {
        self.pair(0, "SECTION");
        self.pair(2, name);
    }

    fn table(&mut self, name: &str, handle: &str, records: usize) {
        self.pair(0, "TABLE");
        self.pair(2, name);
        self.pair(5, handle);
        self.pair(330, "0");
        self.pair(100, "AcDbSymbolTable");
        self.pair(70, &records.to_string());
    }

    fn record(&mut self, kind: &str, table: &str, class: &str, name: &str) {
        self.pair(0, kind);
        let handle = self.handle();
        self.pair(5, &handle);
        self.pair(330, table);
        self.pair(100, "AcDbSymbolTableRecord");
        self.pair(100, class);
        self.pair(2, name);
    }

    fn entity(&mut self, kind: &str, owner: &str, layer: &str) {
        self.pair(0, kind);
        let handle = self.handle();
        self.pair(5, &handle);
        self.pair(330, owner);
        self.pair(100, "AcDbEntity");
        self.pair(8, layer);
    }

    fn line(&mut self, layer: &str, from: Point, to: Point) {
        self.entity("LINE", MODEL_SPACE, layer);
        self.pair(100, "AcDbLine");
        for (codes, [x, y]) in [([10, 20, 30], from), ([11, 21, 31], to)] {
            self.real(codes[0], x);
            self.real(codes[1], y);
            self.real(codes[2], 0.0);
        }
    }

    fn circle(&mut self, layer: &str, [x, y]: Point, radius: f64) {
        self.entity("CIRCLE", MODEL_SPACE, layer);
        self.pair(100, "AcDbCircle");
        self.real(10, x);
        self.real(20, y);
        self.real(30, 0.0);
        self.real(40, radius);
    }

    fn polyline(&mut self, layer: &str, outline: &Outline) {
        let mut corners: Vec<(Point, f64)> = Vec::new();
        for curve in &outline.curves {
            match curve {
                Curve::Arc {
                    from_rad, to_rad, ..
                } => corners.push((curve.at(0.0), ((to_rad - from_rad) / 4.0).tan())),
                _ => {
                    corners.push((curve.at(0.0), 0.0));
                    let mut points = curve.points(OFF_MM);
                    // The last one begins the next curve.
                    points.pop();
                    corners.extend(points.into_iter().map(|point| (point, 0.0)));
                }
            }
        }
        self.entity("LWPOLYLINE", MODEL_SPACE, layer);
        self.pair(100, "AcDbPolyline");
        self.pair(90, &corners.len().to_string());
        self.pair(70, "1");
        self.real(43, 0.0);
        for ([x, y], bulge) in corners {
            self.real(10, x);
            self.real(20, y);
            if bulge != 0.0 {
                self.pair(42, &decimal(bulge, 10));
            }
        }
    }
}
