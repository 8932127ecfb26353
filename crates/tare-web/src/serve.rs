//! Listening, and the routes.

use crate::guard::{Guard, watch};
use crate::state::State;
use crate::{api, assets, page};
use axum::Router;
use axum::extract::DefaultBodyLimit;
use axum::routing::{get, post};
use std::net::{IpAddr, Ipv4Addr, SocketAddr, UdpSocket};
use std::path::PathBuf;
use std::sync::Arc;
use tare_app::live::Live;
use tare_diag::Diag;
use tokio::net::TcpListener;
use tokio::sync::broadcast;

/// Events that a slow page may be behind before it is told to look anew.
const BEHIND: usize = 256;
/// Largest photo taken, in bytes.
pub(crate) const MOST_PHOTO: usize = 40 << 20;
/// Largest other request, in bytes.
const MOST_BODY: usize = 8 << 20;

/// How a server is set up.
#[derive(Clone, Debug)]
pub struct Config {
    /// The workspace folder.
    pub workspace: PathBuf,
    /// The address to listen on; beyond loopback every device has to be paired.
    pub address: IpAddr,
    /// The port; 0 takes a free one.
    pub port: u16,
    /// Who records where a page names nobody.
    pub author: String,
    /// The only study that is shown, where not all are.
    pub only: Option<String>,
}

/// Serves a workspace until the process is told to stop. `ready` hears the address of the pages and, beyond loopback, the pairing code.
///
/// # Errors
/// The workspace does not open, or the address cannot be listened on.
pub fn serve(config: &Config, ready: impl FnOnce(&str, Option<&str>)) -> Result<(), Vec<Diag>> {
    let (events, _) = broadcast::channel(BEHIND);
    let told = events.clone();
    // nobody listening is no harm
    let live = Live::open(&config.workspace, move |study, event| drop(told.send((study, event))))?;
    // by the name it has, whatever the letter case it is asked for in
    let only = config.only.as_deref().map(|name| live.study(name).map(|study| Arc::from(study.name.as_str()))).transpose()?;
    let runtime = tokio::runtime::Builder::new_multi_thread().enable_all().build();
    let runtime = runtime.map_err(|error| vec![Diag::error("serve", format!("no threads for the server ({error})"))])?;
    runtime.block_on(async {
        let wanted = SocketAddr::new(config.address, config.port);
        let listener = TcpListener::bind(wanted).await.map_err(|error| {
            let diag = Diag::error("serve-address", format!("nothing can listen on {wanted} ({error})"));
            vec![diag.hint("another program may have the port: choose one with `--port`, or 0 for any that is free")]
        })?;
        let bound = listener.local_addr().map_err(|error| vec![Diag::error("serve-address", error.to_string())])?;
        let guard = Guard::new(bound).map_err(|d| vec![d])?;
        let code = guard.code().map(str::to_owned);
        let state = State { live, only, author: Arc::from(config.author.as_str()), events, guard: Arc::new(guard) };
        ready(&format!("http://{}/", reached(bound)), code.as_deref());
        let app = routes(state).into_make_service_with_connect_info::<SocketAddr>();
        let served = axum::serve(listener, app).with_graceful_shutdown(stopped()).await;
        served.map_err(|error| vec![Diag::error("serve", format!("the server ended ({error})"))])
    })
}

/// The address that other devices reach, where the server listens on all of this machine's.
fn reached(bound: SocketAddr) -> SocketAddr {
    if !bound.ip().is_unspecified() {
        return bound;
    }
    // nothing is sent: the system only tells by which of its addresses it would
    let towards = UdpSocket::bind((IpAddr::V4(Ipv4Addr::UNSPECIFIED), 0)).and_then(|socket| {
        socket.connect((Ipv4Addr::new(192, 0, 2, 1), 9))?;
        socket.local_addr()
    });
    SocketAddr::new(towards.map_or(IpAddr::V4(Ipv4Addr::LOCALHOST), |found| found.ip()), bound.port())
}

/// Waits for Ctrl-C.
async fn stopped() {
    if tokio::signal::ctrl_c().await.is_err() {
        // without the signal the process is ended from outside; entries are on the disk by then
        std::future::pending::<()>().await;
    }
    // pages hold connections open for changes; nobody waits for them
    std::process::exit(0);
}

fn routes(state: State) -> Router {
    let photos =
        Router::new().route("/api/studies/{study}/photos", post(api::photos::add)).layer(DefaultBodyLimit::max(MOST_PHOTO));
    let rest = Router::new()
        .route("/", get(page::studies))
        .route("/p/{id}", get(page::labelled))
        .route("/compare", get(page::compare))
        .route("/ask", get(page::ask))
        .route("/s/{study}", get(page::overview))
        .route("/s/{study}/{page}", get(page::named))
        .route("/assets/{name}", get(assets::asset))
        .route("/favicon.ico", get(assets::icon))
        .route("/photos/{digest}", get(api::photos::show))
        .route("/api/health", get(api::health))
        .route("/api/openapi.json", get(api::describe::openapi))
        .route("/api/studies", get(api::studies))
        .route("/api/compare", get(api::across::compared))
        .route("/api/questions", get(api::across::questions).post(api::across::save))
        .route("/api/ask", post(api::across::ask))
        .route("/api/studies/{study}/live", get(api::live::follow))
        .route("/api/studies/{study}/{what}", get(api::read::read).post(api::write::write))
        .layer(DefaultBodyLimit::max(MOST_BODY));
    // who is not paired yet sends a code and no more
    let pair = Router::new().route("/pair", get(page::pair).post(page::paired)).layer(DefaultBodyLimit::max(1 << 10));
    photos.merge(pair).merge(rest).layer(axum::middleware::from_fn_with_state(state.clone(), watch)).with_state(state)
}
