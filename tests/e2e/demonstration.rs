//! The demonstration: made, served, used again, and never over a record of somebody's own.

use std::{
    io::{BufRead, BufReader},
    net::SocketAddr,
    path::Path,
    process::{Child, Stdio},
};

use rustix::process::{Pid, Signal, kill_process};

use crate::{
    client,
    server::{program, run},
};

/// The demonstration as a program of its own, with what it said on its way up.
struct Demo {
    child: Child,
    address: SocketAddr,
    said: Vec<String>,
}

/// Lines it says: the address, what it is, four things to try.
const LINES: usize = 6;

impl Demo {
    fn start(data: &Path) -> Self {
        let mut child = program()
            .args(["demo", "--listen", "127.0.0.1:0", "--data"])
            .arg(data)
            .stdin(Stdio::null())
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        let said: Vec<String> = BufReader::new(child.stdout.take().unwrap())
            .lines()
            .take(LINES)
            .map(Result::unwrap)
            .collect();
        let address = said
            .first()
            .and_then(|line| line.rsplit("//").next()?.parse().ok());
        Self {
            child,
            address: address.unwrap(),
            said,
        }
    }

    fn stop(mut self) {
        kill_process(Pid::from_child(&self.child), Signal::TERM).unwrap();
        assert_eq!(self.child.wait().unwrap().code(), Some(0));
    }
}

fn shown(data: &Path, words: &[&str]) -> String {
    let data = data.display().to_string();
    let output = run(&[&["show"], words, &["--data", &data]].concat());
    assert!(output.status.success(), "{output:?}");
    String::from_utf8(output.stdout).unwrap()
}

#[test]
fn it_is_made_served_shown_and_used_again() {
    let folder = tempfile::tempdir().unwrap();
    let data = folder.path().join("demo");
    let demo = Demo::start(&data);
    assert!(
        demo.said
            .iter()
            .any(|line| line.starts_with("Demonstration, invented: ")),
        "{:?}",
        demo.said
    );
    let get = client::request("GET", "/readyz", &[], "");
    assert_eq!(client::send_raw(demo.address, &get).status, 200);
    // Whoever looks around does so beside the server.
    let record = shown(&data, &["record", "--csv"]);
    assert!(shown(&data, &["unit", "3307"]).contains("leak repair"));
    assert!(shown(&data, &["questions"]).contains("inspection was due 5 days before"));
    assert!(shown(&data, &["contents"]).contains("T-1 (reuse tank)"));
    demo.stop();

    let again = Demo::start(&data);
    assert_eq!(shown(&data, &["record", "--csv"]), record);
    again.stop();
}

#[test]
fn a_record_of_somebodys_own_is_left_alone() {
    let folder = tempfile::tempdir().unwrap();
    let data = folder.path().display().to_string();
    let tables = [
        (
            "units.csv",
            "unit,kind,shop,loop,base,class,capacity,cap_rating,opening_strength\n\
          1,truck,Yard,engine,EG,OAT,40 L,,50 %\n",
        ),
        (
            "vessels.csv",
            "vessel,kind,shop,capacity,fill_limit,holds,base,class,opening_volume,opening_strength\n\
          V,drum,Yard,208 L,,fresh,EG,OAT,100 L,50 %\n",
        ),
        (
            "jobs.csv",
            "when,kind,unit,from,to,volume,temperature,fluid,at_mark,meter,who,note\n",
        ),
    ];
    let mut words = vec!["import".to_owned(), "--zone".to_owned(), "UTC".to_owned()];
    for (name, text) in tables {
        let file = folder.path().join(name);
        std::fs::write(&file, text).unwrap();
        words.push(format!("--{}", name.trim_end_matches(".csv")));
        words.push(file.display().to_string());
    }
    words.extend(["--data".to_owned(), data.clone()]);
    let words: Vec<&str> = words.iter().map(String::as_str).collect();
    let imported = run(&words);
    assert!(imported.status.success(), "{imported:?}");
    let record = shown(folder.path(), &["record", "--csv"]);

    let refused = run(&["demo", "--listen", "127.0.0.1:0", "--data", &data]);
    assert_eq!(refused.status.code(), Some(2), "{refused:?}");
    assert!(String::from_utf8_lossy(&refused.stderr).contains("not this demonstration"));
    assert_eq!(shown(folder.path(), &["record", "--csv"]), record);
}

#[test]
fn a_today_before_the_end_of_its_record_is_refused() {
    let refused = run(&["demo", "--today", "2026-10-04"]);
    assert_eq!(refused.status.code(), Some(2));
    assert!(String::from_utf8_lossy(&refused.stderr).contains("2026-10-05"));
}
