//! Who may ask for what: host and origin, paired devices, how often, and the headers every answer carries.

use crate::answer::{Wrong, lead_to};
use crate::state::State;
use axum::body::Body;
use axum::extract::ConnectInfo;
use axum::http::{HeaderMap, HeaderName, HeaderValue, Method, Request, StatusCode, header};
use axum::middleware::Next;
use axum::response::Response;
use sha2::{Digest, Sha256};
use std::collections::HashMap;
use std::net::{IpAddr, SocketAddr};
use std::sync::{Mutex, PoisonError};
use std::time::{Duration, Instant};
use tare_diag::Diag;

/// The cookie of a paired device.
const COOKIE: &str = "tare-device";
/// A pairing lasts a working week.
const PAIRED_SECONDS: u64 = 7 * 24 * 3600;
/// Tries at the pairing code within a minute, from one address and from all.
const TRIES: (u32, u32) = (5, 20);
/// Requests that one address beyond this machine may send at once, and per second in the long run.
const BURST: f64 = 400.0;
const A_SECOND: f64 = 100.0;
/// Addresses remembered; beyond them the oldest are forgotten.
const REMEMBERED: usize = 1_000;

/// What a page may load and do: nothing but what this server sends. Attributes may set a style (bars and indents); no style sheet, script or
/// handler stands in a page.
const POLICY: &str = "default-src 'none'; script-src 'self'; style-src 'self'; style-src-attr 'unsafe-inline'; img-src 'self' blob: data:; \
                      connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'";

/// Decides who is let in.
#[derive(Debug)]
pub(crate) struct Guard {
    port: u16,
    /// Beyond loopback: the code that pairs a device.
    code: Option<String>,
    devices: Mutex<HashMap<[u8; 32], Instant>>,
    asked: Mutex<HashMap<IpAddr, Asked>>,
    tries: Mutex<(u32, Option<Instant>)>,
}

/// What an address has used up.
#[derive(Debug)]
struct Asked {
    left: f64,
    at: Instant,
    tries: u32,
    since: Instant,
}

impl Guard {
    /// For a server that listens on an address.
    pub(crate) fn new(bound: SocketAddr) -> Result<Self, Diag> {
        let code = if bound.ip().is_loopback() { None } else { Some(code()?) };
        let (devices, asked, tries) = (Mutex::default(), Mutex::default(), Mutex::default());
        Ok(Self { port: bound.port(), code, devices, asked, tries })
    }

    pub(crate) fn code(&self) -> Option<&str> {
        self.code.as_deref()
    }

    /// Whether a host is this server by a name nobody else can point here: a number or `localhost`. A page of another name that was made to
    /// resolve to this machine is turned away.
    fn is_ours(&self, host: &str) -> bool {
        let (name, port) = match host.rsplit_once(':') {
            Some((name, port)) if !port.ends_with(']') => (name, port.parse::<u16>().ok()),
            _ => (host, Some(80)),
        };
        let number = name.trim_start_matches('[').trim_end_matches(']').parse::<IpAddr>();
        let local = name == "localhost" || number.as_ref().is_ok_and(IpAddr::is_loopback);
        port == Some(self.port) && (local || (self.code.is_some() && number.is_ok()))
    }

    /// Whether a request may change something: not where a page of another origin sends it.
    fn may_change(&self, headers: &HeaderMap, host: &str) -> bool {
        let origin = headers.get(header::ORIGIN).map(|origin| origin.to_str().unwrap_or("?"));
        let site = headers.get("sec-fetch-site").map(|site| site.to_str().unwrap_or("?"));
        origin.is_none_or(|origin| origin == format!("http://{host}"))
            && site.is_none_or(|site| matches!(site, "same-origin" | "none"))
    }

    fn is_paired(&self, headers: &HeaderMap) -> bool {
        let cookies = headers.get_all(header::COOKIE).into_iter().filter_map(|c| c.to_str().ok()).flat_map(|c| c.split(';'));
        let mut tokens = cookies.filter_map(|cookie| cookie.trim().strip_prefix(COOKIE)?.strip_prefix('='));
        let devices = self.devices.lock().unwrap_or_else(PoisonError::into_inner);
        let now = Instant::now();
        tokens.any(|token| {
            let digest: [u8; 32] = Sha256::digest(token.as_bytes()).into();
            // each known one is looked at, equal or not
            devices.iter().fold(false, |found, (known, until)| found | (same(known, &digest) & (*until > now)))
        })
    }

    /// Pairs a device that knows the code; gives the cookie it gets.
    pub(crate) fn pair(&self, peer: IpAddr, given: &str) -> Result<HeaderValue, Wrong> {
        let Some(code) = &self.code else {
            return Err(Wrong::new(StatusCode::NOT_FOUND, "pair", "this server listens on this machine only"));
        };
        if !self.may_try(peer) {
            let says = "too many tries at the pairing code";
            return Err(Wrong::new(StatusCode::TOO_MANY_REQUESTS, "pair-tries", says));
        }
        let given: String = given.chars().filter(char::is_ascii_digit).collect();
        let (code, given): ([u8; 32], [u8; 32]) =
            (Sha256::digest(code.as_bytes()).into(), Sha256::digest(given.as_bytes()).into());
        if !same(&code, &given) {
            return Err(Wrong::new(StatusCode::FORBIDDEN, "pair-code", "this is not the code that the program shows"));
        }
        let mut token = [0_u8; 32];
        random(&mut token)?;
        let token: String = token.iter().map(|byte| format!("{byte:02x}")).collect();
        let mut devices = self.devices.lock().unwrap_or_else(PoisonError::into_inner);
        let now = Instant::now();
        devices.retain(|_, until| *until > now);
        devices.insert(Sha256::digest(token.as_bytes()).into(), now + Duration::from_secs(PAIRED_SECONDS));
        let cookie = format!("{COOKIE}={token}; Max-Age={PAIRED_SECONDS}; Path=/; HttpOnly; SameSite=Strict");
        HeaderValue::from_str(&cookie)
            .map_err(|_| Wrong::new(StatusCode::INTERNAL_SERVER_ERROR, "pair", "no cookie could be made"))
    }

    fn may_try(&self, peer: IpAddr) -> bool {
        let now = Instant::now();
        let minute = Duration::from_secs(60);
        let mut all = self.tries.lock().unwrap_or_else(PoisonError::into_inner);
        if all.1.is_none_or(|since| now.duration_since(since) > minute) {
            *all = (0, Some(now));
        }
        all.0 += 1;
        let mut asked = self.asked.lock().unwrap_or_else(PoisonError::into_inner);
        let of = asked.entry(peer).or_insert(Asked { left: BURST, at: now, tries: 0, since: now });
        if now.duration_since(of.since) > minute {
            (of.tries, of.since) = (0, now);
        }
        of.tries += 1;
        of.tries <= TRIES.0 && all.0 <= TRIES.1
    }

    /// Whether an address beyond this machine has not asked too often.
    fn may_ask(&self, peer: IpAddr) -> bool {
        if peer.is_loopback() {
            return true;
        }
        let now = Instant::now();
        let mut asked = self.asked.lock().unwrap_or_else(PoisonError::into_inner);
        if asked.len() >= REMEMBERED && !asked.contains_key(&peer) {
            let oldest = asked.iter().min_by_key(|(_, asked)| asked.at).map(|(peer, _)| *peer);
            oldest.map(|peer| asked.remove(&peer));
        }
        let of = asked.entry(peer).or_insert(Asked { left: BURST, at: now, tries: 0, since: now });
        of.left = (of.left + now.duration_since(of.at).as_secs_f64() * A_SECOND).min(BURST) - 1.0;
        of.at = now;
        of.left = of.left.max(-1.0);
        of.left >= 0.0
    }
}

/// Whether two digests are the same, in a time that does not tell where they differ.
fn same(a: &[u8; 32], b: &[u8; 32]) -> bool {
    std::hint::black_box(a.iter().zip(b).fold(0, |differs, (a, b)| differs | (a ^ b))) == 0
}

fn random(bytes: &mut [u8]) -> Result<(), Diag> {
    getrandom::fill(bytes).map_err(|error| Diag::error("random", format!("the system gives no random numbers ({error})")))
}

/// Eight digits.
fn code() -> Result<String, Diag> {
    let mut bytes = [0_u8; 8];
    random(&mut bytes)?;
    Ok(format!("{:08}", u64::from_le_bytes(bytes) % 100_000_000))
}

/// Lets a request through, or says why not; every answer carries the same headers and the time it took.
pub(crate) async fn watch(
    axum::extract::State(state): axum::extract::State<State>,
    ConnectInfo(peer): ConnectInfo<SocketAddr>,
    request: Request<Body>,
    next: Next,
) -> Response {
    let started = Instant::now();
    let of_program = request.uri().path().starts_with("/api/");
    let mut response = match admitted(&state.guard, peer.ip().to_canonical(), &request) {
        Ok(()) => next.run(request).await,
        Err(Turned::Away(wrong)) => wrong.json(),
        Err(Turned::ToPair) if of_program => {
            Wrong::new(StatusCode::UNAUTHORIZED, "pair-missing", "this device is not paired").json()
        }
        Err(Turned::ToPair) => lead_to("/pair"),
    };
    let milliseconds = started.elapsed().as_secs_f64() * 1e3;
    let headers = response.headers_mut();
    let fixed: [(HeaderName, &str); 6] = [
        (header::CONTENT_SECURITY_POLICY, POLICY),
        (header::X_CONTENT_TYPE_OPTIONS, "nosniff"),
        (header::REFERRER_POLICY, "same-origin"),
        (HeaderName::from_static("cross-origin-opener-policy"), "same-origin"),
        (HeaderName::from_static("cross-origin-resource-policy"), "same-origin"),
        (header::CACHE_CONTROL, "no-store"),
    ];
    for (name, value) in fixed {
        headers.entry(name).or_insert(HeaderValue::from_static(value));
    }
    if let Ok(timing) = HeaderValue::from_str(&format!("app;dur={milliseconds:.2}")) {
        headers.insert("server-timing", timing);
    }
    response
}

enum Turned {
    Away(Wrong),
    ToPair,
}

fn admitted(guard: &Guard, peer: IpAddr, request: &Request<Body>) -> Result<(), Turned> {
    let headers = request.headers();
    let away = |status, code, says: &str| Err(Turned::Away(Wrong::new(status, code, says)));
    let host = headers.get(header::HOST).and_then(|host| host.to_str().ok()).unwrap_or_default();
    if !guard.is_ours(host) {
        return away(StatusCode::MISDIRECTED_REQUEST, "host", "this server is asked for by its number or as localhost only");
    }
    if !guard.may_ask(peer) {
        return away(StatusCode::TOO_MANY_REQUESTS, "rate", "this device asks too often");
    }
    let changes = !matches!(*request.method(), Method::GET | Method::HEAD);
    if changes && !guard.may_change(headers, host) {
        return away(StatusCode::FORBIDDEN, "origin", "a page of another origin may not change anything here");
    }
    let path = request.uri().path();
    // another page may lead here, but not load from here: some answers are dear, and some give numbers out
    let foreign = headers.get("sec-fetch-site").is_some_and(|site| site == "cross-site");
    if foreign
        && (path.starts_with("/api/")
            || path.starts_with("/photos/")
            || headers.get("sec-fetch-mode").is_some_and(|mode| mode != "navigate"))
    {
        return away(StatusCode::FORBIDDEN, "origin", "a page of another origin may not load from here");
    }
    let open = path == "/pair" || path == "/api/health" || path.starts_with("/assets/");
    if guard.code.is_some() && !open && !peer.is_loopback() && !guard.is_paired(headers) {
        return Err(Turned::ToPair);
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn guard(bound: &str) -> Guard {
        Guard::new(bound.parse().expect("an address")).expect("a guard")
    }

    #[test]
    fn hosts_are_numbers_or_localhost_with_the_port() {
        let local = guard("127.0.0.1:4000");
        for host in ["127.0.0.1:4000", "localhost:4000", "[::1]:4000"] {
            assert!(local.is_ours(host), "{host}");
        }
        for host in ["127.0.0.1:4001", "127.0.0.1", "tare.example:4000", "192.168.1.4:4000", "localhost.example:4000", ""] {
            assert!(!local.is_ours(host), "{host}");
        }
        let shared = guard("0.0.0.0:4000");
        assert!(shared.is_ours("192.168.1.4:4000") && shared.is_ours("localhost:4000") && !shared.is_ours("shop.example:4000"));
    }

    #[test]
    fn a_page_of_another_origin_changes_nothing() {
        let guard = guard("127.0.0.1:4000");
        let with = |name: HeaderName, value: &'static str| HeaderMap::from_iter([(name, HeaderValue::from_static(value))]);
        let host = "127.0.0.1:4000";
        assert!(guard.may_change(&HeaderMap::new(), host), "a program on this machine");
        assert!(guard.may_change(&with(header::ORIGIN, "http://127.0.0.1:4000"), host));
        for origin in ["http://127.0.0.1:4001", "https://127.0.0.1:4000", "http://example.org", "null"] {
            assert!(
                !guard.may_change(&HeaderMap::from_iter([(header::ORIGIN, HeaderValue::from_static(origin))]), host),
                "{origin}"
            );
        }
        assert!(!guard.may_change(&with(HeaderName::from_static("sec-fetch-site"), "cross-site"), host));
    }

    #[test]
    fn a_device_is_paired_by_the_code_and_known_by_its_cookie() {
        let guard = guard("0.0.0.0:4000");
        let peer: IpAddr = "192.168.1.9".parse().expect("an address");
        let code = guard.code().expect("a code").to_owned();
        assert!(code.len() == 8 && code.bytes().all(|b| b.is_ascii_digit()));
        assert!(guard.pair(peer, "not it").is_err());
        let cookie = guard.pair(peer, &format!("{} {}", &code[..4], &code[4..])).expect("paired");
        let cookie = cookie.to_str().expect("text");
        assert!(cookie.contains("HttpOnly") && cookie.contains("SameSite=Strict"));
        let sent = cookie.split(';').next().expect("a cookie").to_owned();
        let headers = |text: &str| HeaderMap::from_iter([(header::COOKIE, HeaderValue::from_str(text).expect("a cookie"))]);
        assert!(guard.is_paired(&headers(&sent)) && guard.is_paired(&headers(&format!("a=b; {sent}"))));
        assert!(!guard.is_paired(&headers(&sent[..sent.len() - 1])) && !guard.is_paired(&HeaderMap::new()));
    }

    #[test]
    fn tries_at_the_code_and_requests_run_out() {
        let guard = guard("0.0.0.0:4000");
        let peer: IpAddr = "192.168.1.9".parse().expect("an address");
        let status = |given: &str| guard.pair(peer, given).expect_err("wrong").status();
        for _ in 0..TRIES.0 {
            assert_eq!(status("0"), StatusCode::FORBIDDEN);
        }
        assert_eq!(status(guard.code().expect("a code")), StatusCode::TOO_MANY_REQUESTS);
        let asked = (0..2_000).filter(|_| guard.may_ask(peer)).count();
        assert!((400..1_000).contains(&asked), "{asked}");
        assert!((0..2_000).all(|_| guard.may_ask(IpAddr::from([127, 0, 0, 1]))));
    }
}
