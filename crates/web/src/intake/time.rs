//! When a job was done, as people write it, in the shop's own time.

use chrono::{
    DateTime, Datelike, Duration, MappedLocalTime, NaiveDate, NaiveDateTime, NaiveTime, Offset,
    TimeZone, Utc,
};
use chrono_tz::Tz;
use domain::moment::{Moment, Precision};

/// The years that jobs may be of: what lies outside is a slip of the hand.
const YEARS: std::ops::RangeInclusive<i32> = 1990..=2200;
/// The farthest that any place's clocks may be set from UTC, minutes.
pub const FARTHEST_OFFSET_MIN: i16 = 18 * 60;

const EXAMPLE: &str = "write it like 2026-10-05 07:40";
/// The longest that clocks have ever been put forward at once, with room.
const LONGEST_GAP_MIN: i64 = 26 * 60;

/// A point in time with the shop's date and offset.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct LocalMoment {
    /// The point in time.
    pub at: Moment,
    /// How finely it was given.
    pub precision: Precision,
    /// The date in the shop.
    pub local_date: NaiveDate,
    /// The shop's offset from UTC, minutes.
    pub utc_offset_min: i16,
}

/// Reads a time: "2026-10-05 07:40" (also with `T` and seconds), "2026-10-05" for the day alone,
/// which counts as noon, or with an offset from UTC as in RFC 3339.
///
/// A local time stands for the first of two when clocks were put back; `offset_min` says which one
/// is meant. One that clocks jumped over is refused.
///
/// # Errors
/// What is wrong with it, in words.
pub fn read(typed: &str, zone: Tz, offset_min: Option<i16>) -> Result<LocalMoment, String> {
    let typed = typed.trim();
    let read = read_in_any_year(typed, zone, offset_min)?;
    let year = read.local_date.year();
    if YEARS.contains(&year) {
        return Ok(read);
    }
    Err(format!(
        "the year {year} is not taken, only {} to {}: see the year",
        YEARS.start(),
        YEARS.end()
    ))
}

fn read_in_any_year(typed: &str, zone: Tz, offset_min: Option<i16>) -> Result<LocalMoment, String> {
    if let Some(at) = with_offset(typed) {
        return in_zone(at, zone, Precision::Minute);
    }
    let (local, precision) = read_local(typed)?;
    let at = match offset_min {
        Some(minutes) => local
            .and_utc()
            .checked_sub_signed(Duration::minutes(i64::from(minutes)))
            .ok_or_else(|| format!("\"{typed}\" lies beyond the calendar"))?,
        None => at_local(local, zone)?,
    };
    in_zone(at, zone, precision)
}

/// A time that says its own offset from UTC.
fn with_offset(typed: &str) -> Option<DateTime<Utc>> {
    let at = DateTime::parse_from_rfc3339(&typed.replacen(' ', "T", 1)).ok()?;
    Some(at.to_utc())
}

/// Whether a time says its own offset from UTC.
pub fn has_offset(typed: &str) -> bool {
    with_offset(typed.trim()).is_some()
}

/// A point in time as the shop's clocks show it.
///
/// # Errors
/// Beyond the calendar.
pub fn in_zone(at: DateTime<Utc>, zone: Tz, precision: Precision) -> Result<LocalMoment, String> {
    let local = at.with_timezone(&zone);
    let seconds = local.offset().fix().local_minus_utc();
    let utc_offset_min = i16::try_from(seconds.div_euclid(60))
        .map_err(|_| format!("the offset of {zone} at that time is not below a day"))?;
    Ok(LocalMoment {
        at: at.into(),
        precision,
        local_date: local.date_naive(),
        utc_offset_min,
    })
}

/// Of a day alone the earlier of its noon and now, when it is the day of now.
///
/// # Errors
/// Beyond the calendar.
pub fn not_after(
    read: LocalMoment,
    now: Option<DateTime<Utc>>,
    zone: Tz,
) -> Result<LocalMoment, String> {
    let (Precision::Day, Some(now)) = (read.precision, now) else {
        return Ok(read);
    };
    let now = in_zone(now, zone, Precision::Day)?;
    let is_earlier = now.local_date == read.local_date && now.at < read.at;
    Ok(if is_earlier { now } else { read })
}

/// The first moment of a day in a zone.
///
/// # Errors
/// Beyond the calendar.
pub fn start_of_day(date: NaiveDate, zone: Tz) -> Result<LocalMoment, String> {
    let midnight = date.and_time(NaiveTime::MIN);
    let at = match zone.from_local_datetime(&midnight) {
        MappedLocalTime::Single(at) | MappedLocalTime::Ambiguous(at, _) => at,
        // Some zones put clocks forward at midnight; the day then starts after the jump.
        MappedLocalTime::None => neighbour(midnight, zone, 1)
            .ok_or_else(|| format!("the day {date} has no beginning in {zone}"))?,
    };
    in_zone(at.to_utc(), zone, Precision::Minute)
}

fn read_local(typed: &str) -> Result<(NaiveDateTime, Precision), String> {
    let not_read = || format!("\"{typed}\" is not a date and time, {EXAMPLE}");
    let (date, time) = match typed.split_once([' ', 'T', 't']) {
        Some((date, time)) => (date, Some(time.trim())),
        None => (typed, None),
    };
    let date = read_date(date).ok_or_else(not_read)?;
    let Some(time) = time else {
        let noon = NaiveTime::from_hms_opt(12, 0, 0).ok_or_else(not_read)?;
        return Ok((date.and_time(noon), Precision::Day));
    };
    let time = read_time(time).ok_or_else(not_read)?;
    Ok((date.and_time(time), Precision::Minute))
}

/// Year, month, day in full: nobody has to guess which of 05/10 is the month.
fn read_date(text: &str) -> Option<NaiveDate> {
    let mut parts = text.split('-');
    let mut number = |digits: usize| {
        let part = parts.next()?;
        (part.len() == digits && part.bytes().all(|digit| digit.is_ascii_digit()))
            .then(|| part.parse::<u32>().ok())?
    };
    let (year, month, day) = (number(4)?, number(2)?, number(2)?);
    if parts.next().is_some() {
        return None;
    }
    NaiveDate::from_ymd_opt(i32::try_from(year).ok()?, month, day)
}

/// Hours and minutes, perhaps with seconds.
fn read_time(text: &str) -> Option<NaiveTime> {
    let numbers: Vec<u32> = text
        .split(':')
        .map(|part| {
            let plain = (1..=2).contains(&part.len()) && part.bytes().all(|b| b.is_ascii_digit());
            plain.then(|| part.parse().ok())?
        })
        .collect::<Option<_>>()?;
    match numbers.as_slice() {
        [hours, minutes] => NaiveTime::from_hms_opt(*hours, *minutes, 0),
        [hours, minutes, seconds] => NaiveTime::from_hms_opt(*hours, *minutes, *seconds),
        _ => None,
    }
}

fn at_local(local: NaiveDateTime, zone: Tz) -> Result<DateTime<Utc>, String> {
    match zone.from_local_datetime(&local) {
        MappedLocalTime::Single(at) | MappedLocalTime::Ambiguous(at, _) => Ok(at.to_utc()),
        MappedLocalTime::None => {
            let shown = |at: Option<DateTime<Tz>>| {
                at.map_or_else(
                    || "none".to_owned(),
                    |at| at.format("%Y-%m-%d %H:%M").to_string(),
                )
            };
            Err(format!(
                "{} was jumped over when clocks were put forward in {zone}; the nearest times are {} and {}",
                local.format("%Y-%m-%d %H:%M"),
                shown(neighbour(local, zone, -1)),
                shown(neighbour(local, zone, 1)),
            ))
        }
    }
}

/// The nearest whole minute before (−1) or after (1) a time that clocks jumped over.
fn neighbour(local: NaiveDateTime, zone: Tz, step_min: i64) -> Option<DateTime<Tz>> {
    let whole = local.date().and_time(NaiveTime::from_hms_opt(
        chrono::Timelike::hour(&local),
        chrono::Timelike::minute(&local),
        0,
    )?);
    (1..=LONGEST_GAP_MIN).find_map(|minutes| {
        let moved = Duration::minutes(minutes.checked_mul(step_min)?);
        zone.from_local_datetime(&whole.checked_add_signed(moved)?)
            .earliest()
    })
}

#[cfg(test)]
mod tests {
    use chrono_tz::Tz;
    use domain::moment::Precision;

    use super::{not_after, read, start_of_day};

    const DENVER: Tz = chrono_tz::America::Denver;

    fn utc(typed: &str, offset_min: Option<i16>) -> String {
        let read = read(typed, DENVER, offset_min).unwrap();
        read.at.utc().unwrap().to_rfc3339()
    }

    #[test]
    fn a_time_is_the_shops_own() {
        for typed in [
            "2026-10-05 07:40",
            "2026-10-05T07:40",
            "2026-10-05 7:40:00",
            "2026-10-05T07:40:00-06:00",
            "2026-10-05 13:40:00Z",
        ] {
            assert_eq!(utc(typed, None), "2026-10-05T13:40:00+00:00", "{typed}");
        }
        let evening = read("2026-10-06T03:00:00Z", DENVER, None).unwrap();
        assert_eq!(evening.local_date.to_string(), "2026-10-05");
        assert_eq!(evening.utc_offset_min, -360);
    }

    #[test]
    fn a_day_alone_is_noon_and_says_so() {
        let day = read("2026-10-05", DENVER, None).unwrap();
        assert_eq!(day.precision, Precision::Day);
        assert_eq!(utc("2026-10-05", None), "2026-10-05T18:00:00+00:00");
    }

    #[test]
    fn of_today_a_day_alone_is_not_after_now() {
        let day = read("2026-10-05", DENVER, None).unwrap();
        let at = |now: &str| {
            let now = Some(now.parse().unwrap());
            let read = not_after(day, now, DENVER).unwrap();
            assert_eq!(read.precision, Precision::Day);
            assert_eq!(read.local_date.to_string(), "2026-10-05");
            read.at.utc().unwrap().to_rfc3339()
        };
        assert_eq!(at("2026-10-05T13:00:00Z"), "2026-10-05T13:00:00+00:00");
        for now in [
            "2026-10-05T19:00:00Z",
            "2026-10-04T19:00:00Z",
            "2026-10-06T13:00:00Z",
        ] {
            assert_eq!(at(now), "2026-10-05T18:00:00+00:00");
        }
        assert_eq!(not_after(day, None, DENVER), Ok(day));
    }

    #[test]
    fn only_years_that_can_be_meant_are_taken() {
        for typed in ["1990-01-01", "2200-12-31 23:59"] {
            assert!(read(typed, DENVER, None).is_ok(), "{typed}");
        }
        for typed in ["1989-12-31", "2201-01-01", "0206-10-05T07:40:00Z"] {
            let problem = read(typed, DENVER, None).unwrap_err();
            assert!(problem.contains("only 1990 to 2200"), "{problem}");
        }
    }

    #[test]
    fn an_hour_that_clocks_jumped_over_is_refused_with_its_neighbours() {
        let problem = read("2026-03-08 02:30", DENVER, None).unwrap_err();
        assert!(
            problem.contains("2026-03-08 01:59 and 2026-03-08 03:00"),
            "{problem}"
        );
        assert_eq!(utc("2026-03-08 03:00", None), "2026-03-08T09:00:00+00:00");
    }

    #[test]
    fn of_an_hour_that_came_twice_the_first_is_taken_unless_an_offset_says_otherwise() {
        assert_eq!(utc("2026-11-01 01:30", None), "2026-11-01T07:30:00+00:00");
        assert_eq!(
            utc("2026-11-01 01:30", Some(-420)),
            "2026-11-01T08:30:00+00:00"
        );
        assert_eq!(
            utc("2026-11-01T01:30:00-07:00", None),
            "2026-11-01T08:30:00+00:00"
        );
    }

    #[test]
    fn a_day_that_begins_with_a_jump_begins_after_it() {
        let cairo = chrono_tz::Africa::Cairo;
        let day = "2026-04-24".parse().unwrap();
        let start = start_of_day(day, cairo).unwrap();
        assert_eq!(
            start.at.utc().unwrap().to_rfc3339(),
            "2026-04-23T22:00:00+00:00"
        );
        assert_eq!(start.local_date, day);
    }

    #[test]
    fn what_is_no_time_is_refused() {
        for typed in [
            "",
            "yesterday",
            "05/10/2026",
            "2026-13-01",
            "2026-02-30 10:00",
            "2026-10-05 25:00",
            "2026-10-05 7",
            "26-10-05 07:40",
            "2026-10-05 07:40 pm",
            "2026-10-05 07:60",
            "+2026-10-05",
            "2026-10-5",
            "\u{662}026-10-05",
        ] {
            assert!(read(typed, DENVER, None).is_err(), "{typed}");
        }
    }
}
