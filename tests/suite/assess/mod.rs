//! Figures and verdicts of the whole program: `assess`, `batch`, `history`, `report`, and whole cards by `demo`.
mod assess_stations;
mod assess_text;
mod batch;
mod demo;
mod every_figure;
mod five_units;
mod history;
mod knife_edge;
mod not_measured;
mod report;
pub mod report_browser;
mod rest_creep;
mod sequential;
mod shrink;
mod stated;
mod stations;
pub mod verdicts;
mod withheld;
