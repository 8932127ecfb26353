//! `tare serve`: the workspace in the browser.

use super::{Context, Outcome};
use crate::output::Output;
use std::net::{IpAddr, Ipv4Addr};
use tare_web::Config;

/// The usual port.
pub(crate) const PORT: u16 = 8273;

/// Open the workspace in the browser: bench and desk
///
/// Listens on this machine only. With --share it also answers tablets on the shop's network, each paired by the code printed here.
#[derive(Debug, clap::Args)]
#[command(
    after_help = "Examples:\n  tare serve\n  tare serve --share --study \"Pack 1\"     for tablets, one study only\n  tare serve --workspace tare-demo --port 0"
)]
pub(crate) struct Args {
    /// Port; 0 takes a free one
    #[arg(long, default_value_t = PORT)]
    port: u16,
    /// Answer devices on the network too; each has to be paired
    #[arg(long)]
    share: bool,
    /// Address to listen on with --share
    #[arg(long, value_name = "ADDRESS", requires = "share")]
    address: Option<IpAddr>,
    /// Do not open a browser
    #[arg(long)]
    no_open: bool,
}

pub(crate) fn run(args: &Args, context: &Context, output: &mut Output) -> Outcome {
    let address = match (args.share, args.address) {
        (true, Some(address)) => address,
        (true, None) => IpAddr::V4(Ipv4Addr::UNSPECIFIED),
        (false, _) => IpAddr::V4(Ipv4Addr::LOCALHOST),
    };
    serve(address, args.port, !args.no_open, context, output)
}

/// Serves the workspace of the context until the program is stopped.
pub(crate) fn serve(address: IpAddr, port: u16, open: bool, context: &Context, output: &mut Output) -> Outcome {
    let config =
        Config { workspace: context.folder(), address, port, author: context.author.clone(), only: context.study.clone() };
    tare_web::serve(&config, |url, code| {
        output.line(format!("Tare is at {url}"));
        match code {
            Some(code) => {
                output.line(format!("Pairing code for each device: {} {}", &code[..4], &code[4..]));
                output.line("Devices on the network are let in by that code only; the connection is not encrypted, so use a network you trust.");
            }
            None => output.line("It answers this machine only. Ctrl-C ends it."),
        }
        output.flush();
        if open {
            browse(url);
        }
    })?;
    Ok(true)
}

/// Opens a page in the browser, where there is one; the address is printed in any case.
fn browse(url: &str) {
    let program = if cfg!(target_os = "macos") {
        "open"
    } else if cfg!(windows) {
        "explorer"
    } else {
        "xdg-open"
    };
    if cfg!(target_os = "linux") && std::env::var_os("DISPLAY").is_none() && std::env::var_os("WAYLAND_DISPLAY").is_none() {
        return;
    }
    let quiet = std::process::Stdio::null;
    // no browser is no harm
    let _ = std::process::Command::new(program).arg(url).stdin(quiet()).stdout(quiet()).stderr(quiet()).spawn();
}
