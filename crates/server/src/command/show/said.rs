//! What a job read and found besides fluid that moved, as it was typed.

use domain::job::{Details, Job, Line, Measured, Reading};
use domain::pressure_test::PressureTest;

/// One line for each reading, then one for what only this kind of job holds.
pub(super) fn lines(job: &Job) -> Vec<String> {
    let readings = job.lines.iter().filter_map(|line| match line {
        Line::Reading(reading) => Some(read(reading)),
        Line::Movement(_) | Line::Dip(_) => None,
    });
    readings.chain(job.details.as_ref().map(found)).collect()
}

fn read(reading: &Reading) -> String {
    let said = match &reading.measured {
        Measured::FreezePoint(typed) => format!("freezes at {}", typed.typed),
        Measured::FreezePointAtOrBelow(typed) => format!("freezes at or below {}", typed.typed),
        Measured::Strength(typed) => format!("strength {}", typed.typed),
        Measured::Density { density, at } => {
            format!("density {} at {}", density.typed, at.typed)
        }
        Measured::Other {
            what, typed, unit, ..
        } => format!("{what} {typed} {unit}"),
    };
    let scale = reading
        .scale
        .map_or_else(String::new, |base| format!(", {} scale", base.word()));
    format!("read: {} ({}{scale})", said.trim_end(), reading.tool.word())
}

fn found(details: &Details) -> String {
    match details {
        Details::VacuumHold {
            vacuum_start,
            vacuum_end,
            hold_s,
        } => format!(
            "vacuum {} → {} in {hold_s} s",
            vacuum_start.typed, vacuum_end.typed
        ),
        Details::Filled { how } => how.word().to_owned(),
        Details::Flush { agent, rinses } => match agent {
            Some(agent) => format!("{rinses} rinses, with {agent}"),
            None => format!("{rinses} rinses"),
        },
        Details::PressureTest(test) => held(test),
        Details::CapTest { .. } => cap(details),
        Details::LeakRepair {
            part,
            cause,
            watch_days,
        } => format!("{part}: {cause}; watched for {watch_days} days"),
        Details::FilterChange { charged, .. } => if *charged {
            "charged filter"
        } else {
            "filter without additive"
        }
        .to_owned(),
        Details::FitCoupling {
            port,
            thread_found,
            minutes,
            ..
        } => {
            let minutes = minutes.map_or_else(String::new, |minutes| format!(", {minutes} min"));
            format!("{port}, thread {thread_found}{minutes}")
        }
        Details::CleanOut {
            rinses,
            base,
            class,
        } => format!(
            "{rinses} rinses, kept for {} {} from now on",
            base.word(),
            class.word()
        ),
        Details::Sample { bottle, tests } => format!("bottle {bottle}: {tests}"),
        Details::Laboratory { report, .. } => report
            .as_ref()
            .map_or_else(String::new, |report| format!("laboratory's sheet {report}")),
        Details::Inspect { passed, next_due } => format!(
            "{}, next due {next_due}",
            if *passed { "passed" } else { "not passed" }
        ),
        Details::Ship {
            carrier, document, ..
        } => format!("carrier {carrier}, paper {document}"),
    }
}

fn held(test: &PressureTest) -> String {
    let leak = test.leak_class.map_or_else(String::new, |class| {
        let place = test.leak_place.as_deref();
        let place = place.map(|place| format!(" at {place}"));
        format!(
            ", leak class {}{}",
            u8::from(class),
            place.unwrap_or_default()
        )
    });
    format!(
        "pressure {} → {} in {} s{leak}",
        test.pressure_start.typed, test.pressure_end.typed, test.hold_s
    )
}

fn cap(details: &Details) -> String {
    let Details::CapTest {
        stamped,
        opened_at,
        holds,
        replaced_by,
        ..
    } = details
    else {
        return String::new();
    };
    let held = if *holds {
        "holds below that"
    } else {
        "does not hold"
    };
    let changed = replaced_by
        .as_ref()
        .map_or_else(String::new, |cap| format!(", changed for {}", cap.typed));
    format!(
        "cap stamped {}, opened at {}, {held}{changed}",
        stamped.typed, opened_at.typed
    )
}
