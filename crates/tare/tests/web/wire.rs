//! A small HTTP/1.1 client on one kept connection: enough for the browser's driver, the interface and the load program.

use std::io::{self, BufRead, BufReader, Read, Write};
use std::net::TcpStream;
use std::time::Duration;

/// What came back.
#[derive(Debug)]
pub(crate) struct Answer {
    pub(crate) status: u16,
    pub(crate) headers: Vec<(String, String)>,
    pub(crate) body: Vec<u8>,
}

impl Answer {
    /// A header by its name in small letters.
    pub(crate) fn header(&self, name: &str) -> Option<&str> {
        self.headers.iter().find(|(n, _)| n == name).map(|(_, value)| value.as_str())
    }

    pub(crate) fn text(&self) -> String {
        String::from_utf8_lossy(&self.body).into_owned()
    }

    /// Milliseconds the server says it took, from `server-timing: app;dur=12.3`.
    pub(crate) fn server_time(&self) -> Option<f64> {
        let app = self.header("server-timing")?.split(',').find(|part| part.trim().starts_with("app;"))?;
        app.split(';').find_map(|field| field.trim().strip_prefix("dur="))?.parse().ok()
    }
}

/// A connection to one server, opened when first needed and kept while both sides like.
pub(crate) struct Wire {
    address: String,
    patience: Duration,
    stream: Option<BufReader<TcpStream>>,
}

impl Wire {
    /// A connection to `host:port`, which may be written as an address with `http://` and a last stroke.
    pub(crate) fn to(address: &str, patience: Duration) -> Self {
        let address = address.trim_start_matches("http://").trim_end_matches('/').to_owned();
        Self { address, patience, stream: None }
    }

    /// Sends one request and reads its answer to the end. Nothing is ever sent twice: who asks knows what may be repeated.
    pub(crate) fn send(&mut self, method: &str, path: &str, kind: &str, body: &[u8]) -> io::Result<Answer> {
        let mut stream = match self.stream.take() {
            Some(stream) => stream,
            None => BufReader::new(self.connect()?),
        };
        let mut head = format!("{method} {path} HTTP/1.1\r\nhost: {}\r\naccept: */*\r\n", self.address);
        if method != "GET" {
            head += &format!("content-type: {kind}\r\ncontent-length: {}\r\n", body.len());
        }
        // one write, so that no answer waits for the acknowledgement of a half-sent request
        let mut request = (head + "\r\n").into_bytes();
        request.extend_from_slice(body);
        stream.get_mut().write_all(&request)?;
        let (answer, stays) = read_answer(&mut stream)?;
        self.stream = stays.then_some(stream);
        Ok(answer)
    }

    pub(crate) fn get(&mut self, path: &str) -> io::Result<Answer> {
        self.send("GET", path, "", b"")
    }

    pub(crate) fn post(&mut self, path: &str, body: &serde_json::Value) -> io::Result<Answer> {
        self.send("POST", path, "application/json", body.to_string().as_bytes())
    }

    fn connect(&self) -> io::Result<TcpStream> {
        let stream = TcpStream::connect(&self.address)?;
        stream.set_nodelay(true)?;
        stream.set_read_timeout(Some(self.patience))?;
        stream.set_write_timeout(Some(self.patience))?;
        Ok(stream)
    }
}

fn broken(what: &str) -> io::Error {
    io::Error::new(io::ErrorKind::InvalidData, what.to_owned())
}

fn line(stream: &mut impl BufRead) -> io::Result<String> {
    let mut line = String::new();
    if stream.read_line(&mut line)? == 0 {
        return Err(io::ErrorKind::UnexpectedEof.into());
    }
    line.truncate(line.trim_end().len());
    Ok(line)
}

/// The answer, and whether the connection can be used again.
fn read_answer(stream: &mut impl BufRead) -> io::Result<(Answer, bool)> {
    let first = line(stream)?;
    let status = first.split(' ').nth(1).and_then(|code| code.parse().ok()).ok_or_else(|| broken("no status line"))?;
    let mut headers = Vec::new();
    loop {
        let line = line(stream)?;
        let Some((name, value)) = line.split_once(':') else { break };
        headers.push((name.to_ascii_lowercase(), value.trim().to_owned()));
    }
    let mut answer = Answer { status, headers, body: Vec::new() };
    let mut stays = answer.header("connection").is_none_or(|value| !value.eq_ignore_ascii_case("close"));
    let length = answer.header("content-length").map(str::parse::<u64>);
    if let Some(length) = length {
        let length = length.map_err(|_| broken("the length is no number"))?;
        stream.take(length).read_to_end(&mut answer.body)?;
        if answer.body.len() as u64 != length {
            return Err(io::ErrorKind::UnexpectedEof.into());
        }
    } else if answer.header("transfer-encoding") == Some("chunked") {
        read_chunks(stream, &mut answer.body)?;
    } else if !matches!(status, 204 | 304) {
        stream.read_to_end(&mut answer.body)?;
        stays = false;
    }
    Ok((answer, stays))
}

fn read_chunks(stream: &mut impl BufRead, body: &mut Vec<u8>) -> io::Result<()> {
    loop {
        let size = line(stream)?;
        let size = size.split(';').next().and_then(|hex| u64::from_str_radix(hex.trim(), 16).ok());
        let size = size.ok_or_else(|| broken("the length of a chunk is no number"))?;
        let before = body.len() as u64;
        stream.take(size).read_to_end(body)?;
        if body.len() as u64 != before + size {
            return Err(io::ErrorKind::UnexpectedEof.into());
        }
        // a chunk ends with an empty line; so do the trailers behind the last one
        while !line(stream)?.is_empty() {}
        if size == 0 {
            return Ok(());
        }
    }
}
