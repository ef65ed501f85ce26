//! A job as a tablet wrote it down when it was saved there.

use domain::fact::Proved;
use domain::ids::{FactKey, PersonId};
use domain::moment::Moment;
use serde::Deserialize;
use uuid::Uuid;

use crate::job::DoneOn;
use crate::job::waited::Times;

/// The formats that are read: this one, and the one before it for at least a year.
const FORMATS: [u8; 2] = [0, 1];
/// From 1990 to 2286: what a clock can have said.
const MOMENTS_MS: std::ops::Range<i64> = 631_152_000_000..10_000_000_000_000;

/// Format 1. Format 0 had no store, no sequence and no offset of the clock.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct Body {
    format: u8,
    key: Uuid,
    #[serde(default, rename = "sequence")]
    _sequence: Option<i64>,
    #[serde(default, rename = "store")]
    _store: Option<Uuid>,
    address: String,
    fields: String,
    person: Uuid,
    proved: String,
    opened_at: i64,
    saved_at: i64,
    #[serde(default)]
    clock_offset_ms: Option<i64>,
}

/// What a form was sent to.
#[derive(Debug)]
pub(super) enum Address {
    Sheet {
        on: DoneOn,
        subject: Uuid,
        kind: String,
    },
    Void {
        job: String,
    },
}

/// A job that waited.
#[derive(Debug)]
pub(super) struct Written {
    pub(super) key: FactKey,
    pub(super) address: Address,
    pub(super) fields: String,
    pub(super) person: PersonId,
    /// How the tablet says they were proved.
    pub(super) proved: Proved,
    pub(super) times: Times,
}

/// Reads it; otherwise what is wrong with it, in words.
pub(super) fn read(body: &[u8]) -> Result<Written, String> {
    let body: Body = serde_json::from_slice(body).map_err(|problem| problem.to_string())?;
    if !FORMATS.contains(&body.format) {
        return Err(format!(
            "format {} is not read here, only 0 and 1",
            body.format
        ));
    }
    let times = times(
        (body.opened_at, body.saved_at),
        body.clock_offset_ms.unwrap_or(0),
    )?;
    let proved = Proved::from_code(&body.proved).filter(|proved| *proved != Proved::Import);
    let proved = proved.ok_or("proved: not one of pin, badge, password, unconfirmed")?;
    let address = read_address(&body.address)
        .ok_or("address: not that of a job on a unit or vessel, nor of a void")?;
    Ok(Written {
        key: FactKey(body.key),
        address,
        fields: body.fields,
        person: PersonId(body.person),
        proved,
        times,
    })
}

/// The times that a tablet tells, opened and saved by its clock, ms; otherwise which of them is none.
pub(super) fn times(
    (opened_at, saved_at): (i64, i64),
    clock_offset_ms: i64,
) -> Result<Times, String> {
    for (name, ms) in [("opened_at", opened_at), ("saved_at", saved_at)] {
        if !MOMENTS_MS.contains(&ms) {
            return Err(format!("{name}: {ms} ms is no time from 1990 to 2286"));
        }
    }
    if !MOMENTS_MS.contains(&saved_at.saturating_add(clock_offset_ms)) {
        return Err(format!(
            "clock_offset_ms: {clock_offset_ms} ms leads to no time from 1990 to 2286"
        ));
    }
    Ok(Times {
        opened_at: Moment(opened_at),
        saved_at: Moment(saved_at),
        clock_offset_ms,
    })
}

fn read_address(address: &str) -> Option<Address> {
    let parts: Vec<&str> = address.strip_prefix('/')?.split('/').collect();
    match parts.as_slice() {
        [place @ ("units" | "vessels"), subject, "jobs", kind] => Some(Address::Sheet {
            on: if *place == "units" {
                DoneOn::Unit
            } else {
                DoneOn::Vessel
            },
            subject: Uuid::try_parse(subject).ok()?,
            kind: (*kind).to_owned(),
        }),
        ["jobs", job, "void"] => Some(Address::Void {
            job: (*job).to_owned(),
        }),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::read;

    /// As tablets of the first format sent it; kept as long as one of them may still come back.
    const FORMAT_0: &str = r#"{ "format": 0, "key": "0f8fad5b-d9cb-469f-a165-70867728950e",
        "address": "/units/11111111-1111-4111-8111-111111111111/jobs/top_up",
        "fields": "key=0f8fad5b-d9cb-469f-a165-70867728950e", "person":
        "22222222-2222-4222-8222-222222222222", "proved": "pin",
        "opened_at": 1791205200000, "saved_at": 1791205260000 }"#;

    #[test]
    fn the_format_before_is_read_and_a_later_one_is_not() {
        let written = read(FORMAT_0.as_bytes()).unwrap();
        assert_eq!(written.times.clock_offset_ms, 0);
        for (what, instead, told) in [
            ("\"format\": 0", "\"format\": 2", "format 2"),
            ("/units/", "/people/", "address"),
            ("\"pin\"", "\"import\"", "proved"),
            ("1791205260000", "17", "saved_at"),
            ("\"fields\"", "\"felds\"", "felds"),
        ] {
            let problem = read(FORMAT_0.replace(what, instead).as_bytes()).unwrap_err();
            assert!(problem.contains(told), "{problem}");
        }
    }
}
