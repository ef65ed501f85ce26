//! Makes an empty database with the present schema, for checking the statements in the code
//! against it: `scratch_database FILE`. With a second name it also writes the schema down as text:
//! `scratch_database FILE SCHEMA.sql`.

use std::error::Error;
use std::path::PathBuf;

#[tokio::main(flavor = "current_thread")]
async fn main() -> Result<(), Box<dyn Error>> {
    let mut names = std::env::args_os().skip(1).map(PathBuf::from);
    let file = names.next().ok_or("name the file to make")?;
    storage::make_empty(&file).await?;
    if let Some(text) = names.next() {
        std::fs::write(text, storage::schema_of(&file).await?)?;
    }
    Ok(())
}
