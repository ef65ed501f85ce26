//! Starts the built program on a free port with a folder of its own, and ends it again.

use std::{
    io::{BufRead, BufReader, Read},
    net::SocketAddr,
    path::{Path, PathBuf},
    process::{Child, Command, ExitStatus, Output, Stdio},
    sync::mpsc::{Receiver, RecvTimeoutError, channel},
    thread,
    time::Duration,
};

use rustix::process::{Pid, Signal, kill_process};
use tempfile::TempDir;

use crate::client::{self, Answer};

const PROGRAM: &str = env!("CARGO_BIN_EXE_coolant-ledger");

/// A running server; it is killed when the test lets go of it.
#[derive(Debug)]
pub(crate) struct Server {
    pub(crate) address: SocketAddr,
    pub(crate) first_line: String,
    pub(crate) pid: Pid,
    ended: Receiver<ExitStatus>,
    log: Receiver<String>,
    folder: PathBuf,
    _temporary: Option<TempDir>,
}

impl Server {
    pub(crate) fn start() -> Self {
        Self::start_with(&[])
    }

    /// `flags` come after the data folder and the address.
    pub(crate) fn start_with(flags: &[&str]) -> Self {
        let temporary = tempfile::tempdir().unwrap();
        let folder = temporary.path().to_owned();
        Self::start_on(folder, Some(temporary), flags)
    }

    /// On a folder that stays when the server ends.
    pub(crate) fn start_in(folder: &Path, flags: &[&str]) -> Self {
        Self::start_on(folder.to_owned(), None, flags)
    }

    fn start_on(folder: PathBuf, temporary: Option<TempDir>, flags: &[&str]) -> Self {
        let mut child = Command::new(PROGRAM)
            .args(["serve", "--listen", "127.0.0.1:0", "--data"])
            .arg(&folder)
            .args(flags)
            .stdin(Stdio::null())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        let pid = Pid::from_child(&child);
        let log = collect(child.stderr.take().unwrap());
        let mut first_line = String::new();
        BufReader::new(child.stdout.take().unwrap())
            .read_line(&mut first_line)
            .unwrap();
        let address = first_line
            .rsplit("//")
            .next()
            .unwrap()
            .trim()
            .parse()
            .unwrap();
        Self {
            address,
            first_line,
            pid,
            ended: when_ended(child),
            log,
            folder,
            _temporary: temporary,
        }
    }

    pub(crate) fn get(&self, path: &str) -> Answer {
        self.send("GET", path, &[], "")
    }

    pub(crate) fn send(
        &self,
        method: &str,
        path: &str,
        headers: &[(&str, &str)],
        body: &str,
    ) -> Answer {
        client::send_raw(self.address, &client::request(method, path, headers, body))
    }

    pub(crate) fn data(&self) -> &Path {
        &self.folder
    }

    pub(crate) fn signal(&self, signal: Signal) {
        kill_process(self.pid, signal).unwrap();
    }

    /// How the program ended, if it ended in time.
    pub(crate) fn end_within(&self, patience: Duration) -> Option<ExitStatus> {
        self.ended.recv_timeout(patience).ok()
    }

    /// Everything it wrote to its log; waits for its end.
    pub(crate) fn log(&self) -> String {
        self.log.recv_timeout(Duration::from_secs(20)).unwrap()
    }
}

impl Drop for Server {
    fn drop(&mut self) {
        // A program that has ended and been waited for is no longer there to be killed.
        if let Err(RecvTimeoutError::Timeout) = self.ended.recv_timeout(Duration::ZERO) {
            kill_process(self.pid, Signal::KILL).ok();
        }
    }
}

fn when_ended(mut child: Child) -> Receiver<ExitStatus> {
    let (sender, receiver) = channel();
    thread::spawn(move || child.wait().map(|status| sender.send(status)));
    receiver
}

fn collect(mut stream: impl Read + Send + 'static) -> Receiver<String> {
    let (sender, receiver) = channel();
    thread::spawn(move || {
        let mut text = String::new();
        stream.read_to_string(&mut text).map(|_| sender.send(text))
    });
    receiver
}

/// Runs the program to its end.
pub(crate) fn run(words: &[&str]) -> Output {
    Command::new(PROGRAM)
        .args(words)
        .stdin(Stdio::null())
        .output()
        .unwrap()
}

/// A command that is ready to be started with pipes of the test's choice.
pub(crate) fn program() -> Command {
    Command::new(PROGRAM)
}
