//! How long something was held, as people write it: "5", "5:30", "300 s".

use domain::quantity::{RunningTime, Unit};

use crate::component::{Pad, TextField, Width};
use crate::form::{Form, Presence};

/// The longest hold that is taken: a day.
const LONGEST_S: i64 = 86_400;

const HINT: &str = "Like 5, 5:30 or 300 s.";

/// The field; a timer in the page fills it in.
pub(super) fn field(form: &Form, named: (&str, &str)) -> TextField {
    TextField {
        pad: Pad::Decimal,
        ..form.text_field(named, HINT, Width::Ten)
    }
}

/// When the timer was started, as the page keeps it; only the length of the hold is recorded.
pub(super) fn ask_start(form: &mut Form, name: &str) {
    let sent = form.ask(name);
    let sent = sent.trim();
    if !sent.is_empty() && clock(sent).is_none() {
        let found = crate::form::printable(sent);
        form.note(
            "",
            "Form",
            format!(
                "\"{found}\" is no time of day at which a timer is started; open the page anew"
            ),
        );
    }
}

/// Seconds, above 0 and at most a day.
pub(super) fn read(form: &mut Form, named: (&str, &str), presence: Presence) -> Option<i64> {
    let typed = form.ask(named.0);
    let typed = typed.trim();
    if typed.is_empty() {
        if presence == Presence::Needed {
            form.note(
                named.0,
                named.1,
                "nothing was typed here; write minutes like 5 or 5:30",
            );
        }
        return None;
    }
    let seconds = if typed.contains(':') {
        let read = clock(typed);
        if read.is_none() {
            let found = crate::form::printable(typed);
            form.note(
                named.0,
                named.1,
                format!("\"{found}\" is no time; write minutes and seconds like 5:30"),
            );
        }
        read?
    } else {
        form.quantity::<RunningTime>(named, Unit::<RunningTime>::MINUTE, presence)?
            .value
            .s()
    };
    if !(1..=LONGEST_S).contains(&seconds) {
        form.note(
            named.0,
            named.1,
            format!("{seconds} s was entered; above 0 and at most a day (24 h) is taken"),
        );
        return None;
    }
    Some(seconds)
}

/// "5:30" or "1:05:30" in seconds.
fn clock(text: &str) -> Option<i64> {
    let parts: Vec<&str> = text.split(':').collect();
    let plain = |part: &&str| {
        (1..=4).contains(&part.len()) && part.bytes().all(|digit| digit.is_ascii_digit())
    };
    if !(2..=3).contains(&parts.len()) || !parts.iter().all(plain) {
        return None;
    }
    let mut seconds = 0_i64;
    for (at, part) in parts.iter().enumerate() {
        let number: i64 = part.parse().ok()?;
        if at > 0 && number > 59 {
            return None;
        }
        seconds = seconds.checked_mul(60)?.checked_add(number)?;
    }
    Some(seconds)
}

#[cfg(test)]
mod tests {
    use super::read;
    use crate::form::{Form, Presence};

    const HOLD: (&str, &str) = ("hold", "Held for");

    #[test]
    fn a_hold_is_read_in_minutes_minutes_and_seconds_or_with_its_unit() {
        for (typed, seconds) in [
            ("5", 300),
            ("5.5", 330),
            ("5,5", 330),
            ("5:30", 330),
            ("0:45", 45),
            ("1:00:00", 3_600),
            ("300 s", 300),
            ("2 h", 7_200),
            ("1440", 86_400),
        ] {
            let mut form = Form::with([("hold", typed)]);
            assert_eq!(
                read(&mut form, HOLD, Presence::Needed),
                Some(seconds),
                "{typed}"
            );
            assert!(form.is_good(), "{typed}");
        }
    }

    #[test]
    fn what_is_no_hold_is_named_with_what_is_taken() {
        for typed in [
            "", "0", "-5", "5:", ":30", "5:60", "5:3x", "1:2:3:4", "1441", "five", "NaN", "1e400",
            "5\0", "99999:00",
        ] {
            let mut form = Form::with([("hold", typed)]);
            assert_eq!(read(&mut form, HOLD, Presence::Needed), None, "{typed}");
            assert!(!form.problem_of("hold").is_empty(), "{typed}");
        }
        let mut form = Form::default();
        assert_eq!(read(&mut form, HOLD, Presence::Optional), None);
        assert!(form.is_good());
    }
}
