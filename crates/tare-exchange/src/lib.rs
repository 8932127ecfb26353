//! Foreign parts lists and rate tables read into proposals: CSV, XLSX, XLS, ODS.
