//! When a job was done: now, or at another day and time.

use chrono::{DateTime, TimeDelta, Utc};
use domain::moment::{CLOCK_TOLERANCE_MS, Moment, Precision, When};

use super::ground::Ground;
use crate::component::{Choice, ChoiceField, ChoiceLook, TextField, Width};
use crate::form::{Form, Presence, printable};
use crate::intake::time;

const WHEN: &str = "When was it done?";

/// The fields of a time.
#[derive(Clone, Debug)]
pub(crate) struct WhenFields {
    pub(crate) which: ChoiceField,
    pub(crate) day: TextField,
    pub(crate) time: TextField,
}

impl WhenFields {
    pub(crate) fn of(form: &Form, ground: &Ground) -> Self {
        let choice = |value: &str, label: &str, chosen| Choice {
            value: value.to_owned(),
            label: label.to_owned(),
            chosen,
            ..Choice::default()
        };
        let mut day = form.text_field(("day", "Day, like 2026-10-05"), "", Width::Ten);
        // A page that was just opened; what somebody emptied stays empty.
        if form.typed("when").is_empty() {
            day.value = ground.today.to_string();
        }
        let hint = format!(
            "In the shop's time ({}). Leave it empty when only the day is known.",
            ground.zone
        );
        Self {
            which: form.choice_field(
                ("when", WHEN),
                "",
                vec![
                    choice("now", "Now", true),
                    choice("earlier", "At another time", false),
                ],
                ChoiceLook::OneOf,
            ),
            day,
            time: form.text_field(("time", "Time, like 07:40"), hint, Width::Five),
        }
    }
}

/// Reads it. A time that cannot have been yet is refused: only a slip of the hand makes one.
pub(crate) fn read(form: &mut Form, ground: &Ground) -> Option<When> {
    let which = form.choice(
        ("when", WHEN),
        &[("now", true), ("earlier", false)],
        Presence::Needed,
    );
    let (day, hour) = (form.ask("day"), form.ask("time"));
    let opened = read_opened(form);
    let now = ground.now;
    let local = if which? {
        refuse_a_time_that_does_not_count(form, (&day, &hour), ground);
        time::in_zone(now, ground.zone, Precision::Minute)
    } else {
        // What is not printable is no time either, and is named in what it was read as.
        let typed = printable(&format!("{} {}", day.trim(), hour.trim()));
        let read = time::read(&typed, ground.zone, None);
        read.and_then(|read| time::not_after(read, Some(now), ground.zone))
            .and_then(|read| not_ahead(read, now, &typed))
    };
    match local {
        Ok(local) => {
            // A form cannot have been opened after it was sent.
            let opened = opened.filter(|opened| opened.0 <= now.timestamp_millis());
            Some(When {
                happened_at: local.at,
                precision: local.precision,
                local_date: local.local_date,
                utc_offset_min: local.utc_offset_min,
                made_at: opened.unwrap_or_else(|| now.into()),
                clock_offset_ms: 0,
            })
        }
        Err(problem) => {
            form.note("day", WHEN, problem);
            None
        }
    }
}

/// A time was typed and "Now" is chosen: one of the two is a slip.
fn refuse_a_time_that_does_not_count(form: &mut Form, (day, hour): (&str, &str), ground: &Ground) {
    let (day, hour) = (day.trim(), hour.trim());
    let untouched = day.is_empty() || day == ground.today.to_string();
    if untouched && hour.is_empty() {
        return;
    }
    let found = printable(format!("{day} {hour}").trim());
    form.note(
        "day",
        WHEN,
        format!(
            "\"{found}\" was typed and Now is chosen; choose At another time, or empty the time"
        ),
    );
}

/// From 1990 to 2286: what a clock of ours can have said.
const MOMENTS_MS: std::ops::Range<i64> = 631_152_000_000..10_000_000_000_000;

/// When the page was opened, which the page itself put in.
fn read_opened(form: &mut Form) -> Option<Moment> {
    let sent = form.ask("opened");
    let sent = sent.trim();
    let opened = sent
        .parse::<i64>()
        .ok()
        .filter(|ms| MOMENTS_MS.contains(ms))
        .map(Moment);
    if opened.is_none() && !sent.is_empty() {
        let found = printable(sent);
        form.note(
            "",
            "Form",
            format!("\"{found}\" is no moment at which a form is opened; open the page anew"),
        );
    }
    opened
}

fn not_ahead(
    read: time::LocalMoment,
    now: DateTime<Utc>,
    typed: &str,
) -> Result<time::LocalMoment, String> {
    let latest = now.checked_add_signed(TimeDelta::milliseconds(CLOCK_TOLERANCE_MS));
    if latest.is_some_and(|latest| read.at > latest.into()) {
        return Err(format!(
            "\"{}\" lies ahead of the server's clock; at most 10 minutes ahead are taken",
            printable(typed.trim())
        ));
    }
    Ok(read)
}
