//! The report filled from a compiled study.
use tare_library::Library;
use tare_model::Document;
use tare_report::Report;
use tare_study::Study;

/// Fills a report.
pub fn fill(_document: &Document, _study: &Study, _library: &Library, _head: u64) -> Report {
    Report::default()
}

/// The report as one page of HTML.
pub fn html(report: &Report) -> String {
    tare_report::html(report)
}
