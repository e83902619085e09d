//! Plots and drawings as SVG.
//!
//! Drawn like a sheet from the drawing office: hairlines, labelled axes with units, limits as ruled bands, every
//! reading a mark and its uncertainty a bar. State is told by shape and word, so that a drawing reads as well in
//! black and white. Pure functions from plain structs to strings: equal input draws the equal sheet, and no input,
//! however broken, makes a coordinate that is not a number.
//!
//! ```
//! use fettle_draw::{Mark, Sheet, SpeedChart, SpeedColumn, SpeedReading, speed_chart};
//!
//! let chart = SpeedChart {
//!     title: "errors of the speeds".to_owned(),
//!     series: vec![("after".to_owned(), Mark::FilledSquare)],
//!     speeds: vec![SpeedColumn {
//!         marked: "1/125".to_owned(),
//!         limit_stops: Some(0.25),
//!         readings: vec![Some(SpeedReading { error_stops: 0.08, uncertainty_stops: Some(0.03) })],
//!     }],
//! };
//! assert!(speed_chart(&chart, Sheet::Inherit).starts_with("<svg"));
//! ```

mod cause_network;
mod correction_card;
mod fastener;
mod fastener_form;
mod frame;
mod layered;
mod learned;
mod lettering;
mod mark;
mod measured;
mod mesh_drawing;
mod meter_chart;
pub mod part;
mod plan_tree;
mod rangefinder_chart;
mod register_chart;
mod removal_graph;
mod scale;
mod sheet;
mod speed_chart;
mod stock_fan;
mod svg;
mod teeth_overlay;
mod trace;
mod trace_chart;
mod tray;
mod trim_chart;
mod written;

pub use cause_network::{
    CauseKind, CauseLink, CauseNetwork, CauseNode, cause_network, cause_overview,
};
pub use correction_card::{CorrectionCard, correction_card};
pub use fastener::{Fastener, FastenerKind, fastener, thread_diameter_mm};
pub use fastener_form::{NutForm, ScrewHead};
pub use learned::{
    DaysChart, MonthBar, MonthsChart, QuotedMinutes, Share, SharesChart, days_chart, minutes_chart,
    months_chart, shares_chart,
};
pub use mark::{Mark, verdict_mark, verdict_word};
pub use mesh_drawing::mesh_drawing;
pub use meter_chart::meter_chart;
pub use plan_tree::{PlanAct, PlanBranch, PlanStep, plan_tree};
pub use rangefinder_chart::rangefinder_chart;
pub use register_chart::register_chart;
pub use removal_graph::{Errand, PartState, RemovalGraph, RemovalPart, removal_graph};
pub use sheet::Sheet;
pub use speed_chart::{SpeedChart, SpeedColumn, SpeedReading, speed_chart};
pub use stock_fan::{StockFan, StockFanPoint, stock_fan};
pub use teeth_overlay::teeth_overlay;
pub use trace::{Trace, TracePoint};
pub use trace_chart::{trace_chart, trace_pair};
pub use tray::{Tray, TrayCell, TrayPiece, tray};
pub use trim_chart::trim_chart;
pub use written::{
    WrittenTime, decimals_for, shortest_decimals, signed_off, written_chance, written_stops,
};
