//! `show`: what the record says, in tables for people and as CSV for programs.

mod contents;
mod facts;
mod history;
mod names;
mod print;
mod said;
mod totals;

use std::path::PathBuf;

use clap::{Args, Subcommand, ValueEnum};
use domain::book::month::Month;
use domain::ids::ShopId;
use domain::quantity::UnitsOfMeasure;

use self::{history::Named, names::Names, print::Form};
use crate::{exit::Failure, out, week::open};

#[derive(Args, Debug)]
pub(crate) struct Flags {
    #[command(subcommand)]
    what: What,
    /// Folder that holds the record and everything else the server keeps.
    #[arg(long, value_name = "DIR", default_value = "data", global = true)]
    data: PathBuf,
    /// Print CSV for programs: plain numbers, in the units that each column names.
    #[arg(long, global = true)]
    csv: bool,
    /// Units for people; without it those of the shop.
    #[arg(long, value_enum, global = true)]
    units_of_measure: Option<Measures>,
}

#[derive(Subcommand, Debug)]
enum What {
    /// What every vessel and loop holds, and what came from and went outside.
    Contents,
    /// One unit: its loops, and all jobs on it, newest first.
    Unit {
        /// The number painted on it.
        number: String,
    },
    /// One vessel: what it holds, and all jobs that touched it, newest first.
    Vessel {
        /// The name on it.
        name: String,
        /// Its shop, where several have one of that name.
        #[arg(long)]
        shop: Option<String>,
    },
    /// Recovered, filled, to waste, shipped, bought and topped up.
    Totals {
        /// One month, such as 2026-10; without it all of them.
        #[arg(long, value_parser = month)]
        month: Option<Month>,
        /// One shop, by its name; without it all of them.
        #[arg(long)]
        shop: Option<String>,
    },
    /// What looked odd and waits for an answer.
    Questions,
    /// The facts in the order they arrived.
    Record,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
enum Measures {
    /// Litres, °C, kilograms.
    Metric,
    /// US gallons, °F, pounds.
    Us,
}

fn month(text: &str) -> Result<Month, String> {
    Month::try_from(text.to_owned())
}

pub(crate) fn run(flags: &Flags) -> Result<(), Failure> {
    open::block_on(show(flags))
}

async fn show(flags: &Flags) -> Result<(), Failure> {
    let mut read = open::for_reading(&flags.data).await?;
    let fault = |error| open::fault(&error);
    let measures = flags.units_of_measure.map(|measures| match measures {
        Measures::Metric => UnitsOfMeasure::METRIC,
        Measures::Us => UnitsOfMeasure::US,
    });
    let names = Names::read(&mut read, measures).await.map_err(fault)?;
    let form = if flags.csv { Form::Csv } else { Form::People };
    let lagging = read.count_stale_places().await.map_err(fault)?;
    let text = match &flags.what {
        What::Contents => contents::show(&mut read, &names, form)
            .await
            .map_err(fault)?,
        What::Unit { number } => {
            let unit = history::unit(&mut read, &names, number)
                .await
                .map_err(fault)?;
            let unit = unit.ok_or_else(|| unknown("unit", number))?;
            history::show(&mut read, &names, &unit, form)
                .await
                .map_err(fault)?
        }
        What::Vessel { name, shop } => {
            let shop = named_shop(&names, shop.as_deref())?;
            let vessel = history::vessel(&mut read, &names, name, shop)
                .await
                .map_err(fault)?;
            let vessel = match vessel {
                Named::One(vessel) => vessel,
                Named::Nothing => return Err(unknown("vessel", name)),
                Named::InShops(shops) => {
                    return Err(Failure::usage(format!(
                        "several shops have a vessel called \"{name}\"; say which one with --shop: {}",
                        shops.join(", ")
                    )));
                }
            };
            history::show(&mut read, &names, &vessel, form)
                .await
                .map_err(fault)?
        }
        What::Totals { month, shop } => {
            let shop = named_shop(&names, shop.as_deref())?;
            totals::show(&mut read, &names, (*month, shop), form)
                .await
                .map_err(fault)?
        }
        What::Questions => facts::questions(&mut read, &names, form)
            .await
            .map_err(fault)?,
        What::Record => return facts::record(&mut read, &names, form).await.map_err(fault),
    };
    out::say(&text);
    if lagging > 0 {
        out::complain("a late job is still being worked out, so figures may change in a moment");
    }
    Ok(())
}

fn named_shop(names: &Names, shop: Option<&str>) -> Result<Option<ShopId>, Failure> {
    let id = |name| names.shop(name).ok_or_else(|| unknown("shop", name));
    shop.map(id).transpose()
}

fn unknown(what: &str, name: &str) -> Failure {
    Failure::usage(format!(
        "no {what} on record is called \"{name}\", and no job names one"
    ))
}
