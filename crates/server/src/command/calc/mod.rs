//! `calc NAME`: one calculation, from figures with their units or from the rows of a file.
//!
//! Options, columns and help all come from the table of `domain::calculation`.

mod measure;
mod rows;
mod rules;

use std::fs;
use std::io::{self, Read as _};

use clap::{Arg, ArgAction, ArgMatches, Args};
use domain::calculation::{self, Calculation, Entered, Value};

use crate::exit::Failure;
use crate::out;

/// Said below every answer for people.
const CAUTION: &str = "Worked out, not measured. Local codes, the maker's instructions and licensed practice come first.";

/// Help is that of one calculation, so it is not taken before its name is known.
#[derive(Args, Debug)]
#[command(disable_help_flag = true)]
pub(crate) struct Flags {
    /// Name of the calculation; without one, all names are printed.
    #[arg(allow_hyphen_values = true)]
    name: Option<String>,
    /// Its figures, like --vacuum 20inHg; `calc NAME --help` names them.
    #[arg(
        trailing_var_arg = true,
        allow_hyphen_values = true,
        value_name = "FIGURES"
    )]
    figures: Vec<String>,
}

pub(crate) fn run(flags: &Flags) -> Result<(), Failure> {
    let asks_for_help = |name: &&String| matches!(name.as_str(), "--help" | "-h");
    let Some(name) = flags.name.as_ref().filter(|name| !asks_for_help(name)) else {
        out::say(&names());
        return Ok(());
    };
    if name == rules::NAME {
        return rules::asked(&flags.figures);
    }
    let calculation = calculation::find(name).ok_or_else(|| {
        Failure::usage(format!(
            "there is no calculation \"{name}\"; `coolant-ledger calc` prints their names"
        ))
    })?;
    let given = match parser(calculation).try_get_matches_from(&flags.figures) {
        Ok(given) => given,
        Err(stop) if stop.use_stderr() => {
            return Err(Failure::usage(stop.render().to_string().trim_end()));
        }
        Err(help) => {
            out::say(help.render().to_string().trim_end());
            return Ok(());
        }
    };
    match given.get_one::<String>(ROWS) {
        Some(file) => many(calculation, &read(file)?),
        None => one(calculation, &given),
    }
}

fn names() -> String {
    let known = || {
        calculation::all()
            .map(|calculation| (calculation.name, calculation.about))
            .chain([(rules::NAME, rules::ABOUT)])
    };
    let width = known().map(|(name, _)| name.len()).max().unwrap_or(0);
    let lines: Vec<String> = known()
        .map(|(name, about)| format!("{name:width$}  {about}"))
        .collect();
    format!(
        "{}\n\ncoolant-ledger calc NAME --help says what each needs.",
        lines.join("\n")
    )
}

const JSON: &str = "json";
const ROWS: &str = "rows";

/// The command line of one calculation.
fn parser(calculation: &'static Calculation) -> clap::Command {
    let options = calculation.inputs.iter().map(|input| {
        let usual = measure::usual_of(*input);
        let option = Arg::new(input.column)
            .long(measure::option_of(*input))
            .value_name(measure::example_of(input.dimension))
            .allow_hyphen_values(true);
        match usual {
            None => option
                .required_unless_present(ROWS)
                .help(format!("Column {}", input.column)),
            Some(usual) => option.help(format!("Column {}; {usual} if left out", input.column)),
        }
    });
    clap::Command::new(calculation.name)
        .bin_name(format!("coolant-ledger calc {}", calculation.name))
        .no_binary_name(true)
        .about(calculation.about)
        .after_help(format!("It works out: {}.", calculation.outputs.join(", ")))
        .args(options)
        .arg(
            Arg::new(JSON)
                .long(JSON)
                .action(ArgAction::SetTrue)
                .help("Print one JSON object"),
        )
        .arg(rows_option().conflicts_with(JSON))
}

fn rows_option() -> Arg {
    Arg::new(ROWS)
        .long(ROWS)
        .value_name("FILE.csv")
        .help("Read rows with these columns and append what comes out; - for standard input")
}

fn many(calculation: &'static Calculation, text: &str) -> Result<(), Failure> {
    let inputs: Vec<&str> = calculation
        .inputs
        .iter()
        .map(|input| input.column)
        .collect();
    let work_out = |cells: &[&str]| {
        let figures = calculation.inputs.iter().zip(cells);
        let figures: Result<Vec<Entered>, String> = figures
            .map(|(input, typed)| {
                measure::read(typed, input.dimension)
                    .map_err(|problem| format!("{}: {problem}", input.column))
            })
            .collect();
        let worked = calculation.work_out(&figures?);
        let worked = worked.map_err(|problem| problem.to_string())?;
        Ok(worked.iter().map(ToString::to_string).collect())
    };
    let asked = rows::Asked {
        name: calculation.name,
        inputs: &inputs,
        outputs: calculation.outputs,
        work_out: &work_out,
    };
    rows::run(&asked, text)
}

fn one(calculation: &'static Calculation, given: &ArgMatches) -> Result<(), Failure> {
    let mut figures = Vec::with_capacity(calculation.inputs.len());
    let mut problems = Vec::new();
    let mut taken = Vec::new();
    for input in calculation.inputs {
        let typed = given.get_one::<String>(input.column).map(String::as_str);
        let usual = measure::usual_of(*input).filter(|_| typed.is_none());
        if let Some(usual) = usual {
            taken.push(format!("{} {usual}", measure::option_of(*input)));
        }
        let typed = typed.or(usual).unwrap_or_default();
        match measure::read(typed, input.dimension) {
            Ok(figure) => figures.push(figure),
            Err(problem) => {
                problems.push(format!("--{}: {problem}", measure::option_of(*input)));
            }
        }
    }
    if !problems.is_empty() {
        return Err(Failure::usage(problems.join("\n")));
    }
    let worked = calculation
        .work_out(&figures)
        .map_err(|problem| Failure::usage(problem.to_string()))?;
    if given.get_flag(JSON) {
        out::say(&as_json(calculation, (&figures, &worked)));
    } else {
        out::say(&as_text(calculation, (&worked, &taken)));
    }
    Ok(())
}

fn as_text(calculation: &Calculation, (worked, taken): (&[Value], &[String])) -> String {
    let width = calculation.outputs.iter().map(|column| column.len()).max();
    let width = width.unwrap_or(0);
    let mut lines: Vec<String> = calculation
        .outputs
        .iter()
        .zip(worked)
        .map(|(column, value)| match value {
            Value::Nothing => format!("{column:width$}  -"),
            value => format!("{column:width$}  {value}"),
        })
        .collect();
    lines.push(String::new());
    if !taken.is_empty() {
        lines.push(format!(
            "Taken, as nothing else was given: {}.",
            taken.join(", ")
        ));
    }
    lines.push(CAUTION.to_owned());
    lines.join("\n")
}

/// What went in and what came out, in one object.
fn as_json(calculation: &Calculation, (figures, worked): (&[Entered], &[Value])) -> String {
    let number = |number: f64| {
        // The digits that are printed everywhere else.
        let shown = Value::Number(number).to_string();
        shown
            .parse::<serde_json::Number>()
            .map_or(serde_json::Value::Null, serde_json::Value::Number)
    };
    let inputs = calculation.inputs.iter().zip(figures);
    let inputs = inputs.map(|(input, figure)| {
        let value = match figure {
            Entered::Number(figure) => number(*figure),
            Entered::Glycol(glycol) => measure::word_of(*glycol).into(),
        };
        (input.column.to_owned(), value)
    });
    let outputs = calculation.outputs.iter().zip(worked);
    let outputs = outputs.map(|(column, value)| {
        let value = match value {
            Value::Number(figure) => number(*figure),
            Value::Text(words) => words.as_str().into(),
            Value::Flag(flag) => (*flag).into(),
            Value::Nothing => serde_json::Value::Null,
        };
        ((*column).to_owned(), value)
    });
    serde_json::Value::Object(inputs.chain(outputs).collect()).to_string()
}

fn read(file: &str) -> Result<String, Failure> {
    let text = if file == "-" {
        let mut text = String::new();
        io::stdin().lock().read_to_string(&mut text).map(|_| text)
    } else {
        fs::read_to_string(file)
    };
    text.map_err(|cause| Failure::usage(format!("{file} cannot be read: {cause}")))
}
