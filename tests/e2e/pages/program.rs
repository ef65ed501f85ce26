//! The program in the foreground of a test: what it says line by line, and its end.

use std::{
    io::{BufRead, BufReader},
    net::SocketAddr,
    process::{Child, Stdio},
    sync::mpsc::{Receiver, channel},
    thread,
    time::Duration,
};

use rustix::process::{Pid, Signal, kill_process};

use crate::server::program;

/// A start replays the record; on a busy machine that takes its time.
const PATIENCE: Duration = Duration::from_mins(2);

/// A running program; it is ended when the test lets go of it.
#[derive(Debug)]
pub(crate) struct Program {
    child: Child,
    pub(crate) address: SocketAddr,
    /// What it said until it was ready.
    pub(crate) said: Vec<String>,
}

impl Program {
    /// Starts it and reads what it says up to the first line that makes it ready.
    pub(crate) fn start(words: &[&str], is_ready: impl Fn(&[String]) -> bool) -> Self {
        let mut child = program()
            .args(words)
            .stdin(Stdio::null())
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        let lines = lines_of(&mut child);
        let mut said = Vec::new();
        while !is_ready(&said) {
            said.push(lines.recv_timeout(PATIENCE).unwrap());
        }
        let address = said.iter().find_map(|line| {
            let origin = line.strip_prefix("listening on ")?;
            origin.rsplit("//").next()?.parse().ok()
        });
        Self {
            child,
            address: address.unwrap(),
            said,
        }
    }

    /// Ends it as a service manager does; what it had to carry over is in its folder then.
    pub(crate) fn stop(mut self) {
        self.end();
    }

    pub(crate) fn id(&self) -> u32 {
        self.child.id()
    }

    pub(crate) fn end(&mut self) {
        if let Ok(None) = self.child.try_wait() {
            kill_process(Pid::from_child(&self.child), Signal::TERM).ok();
            self.child.wait().ok();
        }
    }
}

impl Drop for Program {
    fn drop(&mut self) {
        self.end();
    }
}

fn lines_of(child: &mut Child) -> Receiver<String> {
    let (sender, receiver) = channel();
    let stream = child.stdout.take().unwrap();
    thread::spawn(move || {
        for line in BufReader::new(stream).lines().map_while(Result::ok) {
            if sender.send(line).is_err() {
                return;
            }
        }
    });
    receiver
}

/// The value of a field in a line such as `sign-on: role=manager handle=P10 yard="Upper Yard"`.
pub(crate) fn field(line: &str, name: &str) -> Option<String> {
    let start = line.find(&format!(" {name}="))? + name.len() + 2;
    let rest = line.get(start..)?;
    let value = match rest.strip_prefix('"') {
        Some(quoted) => quoted.split('"').next()?,
        None => rest.split(' ').next()?,
    };
    Some(value.to_owned())
}
