//! LibreOffice without a window, in a profile of its own; for tests and the bench.

use std::path::Path;
use std::process::Command;

/// Compute everything when a file is opened, whatever it says it holds.
const SETTINGS: &str = r#"<?xml version="1.0" encoding="UTF-8"?>
<oor:items xmlns:oor="http://openoffice.org/2001/registry">
<item oor:path="/org.openoffice.Office.Calc/Formula/Load"><prop oor:name="OOXMLRecalcMode" oor:op="fuse"><value>0</value></prop></item>
</oor:items>
"#;

/// The command that opens a workbook, computes it and writes it anew into a folder `out`; its profile stands in `folder`.
pub(crate) fn converting(folder: &Path, file: &Path, out: &Path) -> std::io::Result<Command> {
    let profile = folder.join("profile");
    std::fs::create_dir_all(profile.join("user"))?;
    std::fs::write(profile.join("user/registrymodifications.xcu"), SETTINGS)?;
    let mut command = Command::new("soffice");
    command
        .arg(format!("-env:UserInstallation=file://{}", profile.display()))
        .args(["--headless", "--convert-to", "xlsx:Calc MS Excel 2007 XML", "--outdir"])
        .args([out, file]);
    Ok(command)
}
