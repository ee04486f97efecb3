//! `install`: what goes with the program, to standard output.

use clap::CommandFactory;

use crate::args::{Cli, InstallArgs, Installed};
use crate::exit::{Exit, Failure};
use crate::output::Sink;

/// Runs it.
///
/// # Errors
/// If it can't be written.
pub(crate) fn run(args: &InstallArgs) -> Result<Exit, Failure> {
    let mut command = Cli::command();
    let mut text = Vec::new();
    match args.what {
        Installed::Completions { shell } => {
            clap_complete::generate(shell, &mut command, "coilwright", &mut text);
        }
        Installed::Manual => manual(&mut command, &mut text).map_err(Failure::Stdout)?,
    }
    let mut sink = Sink::stdout();
    sink.raw(&String::from_utf8_lossy(&text))?;
    sink.close()?;
    Ok(Exit::Good)
}

/// One page: the program, then each command with its options and examples.
fn manual(command: &mut clap::Command, text: &mut Vec<u8>) -> std::io::Result<()> {
    command.build();
    let man = clap_mangen::Man::new(command.clone());
    man.render_title(text)?;
    man.render_name_section(text)?;
    man.render_synopsis_section(text)?;
    man.render_options_section(text)?;
    text.extend_from_slice(after_help(command, ".SH \"EXAMPLES AND EXIT CODES\"").as_bytes());
    for sub in command.get_subcommands().filter(|c| c.get_name() != "help") {
        let man = clap_mangen::Man::new(sub.clone());
        let mut page = Vec::new();
        man.render_description_section(&mut page)?;
        man.render_synopsis_section(&mut page)?;
        man.render_options_section(&mut page)?;
        // Its sections are parts of ours.
        let page = format!("\n{}", String::from_utf8_lossy(&page)).replace("\n.SH ", "\n.SS ");
        let heading = format!(".SH \"COMMAND {}\"", sub.get_name().to_uppercase());
        let part = format!("{heading}{page}{}", after_help(sub, ".SS EXAMPLES"));
        text.extend_from_slice(part.as_bytes());
    }
    Ok(())
}

/// What stands after the options, line for line.
fn after_help(command: &clap::Command, heading: &str) -> String {
    let Some(text) = command.get_after_help() else { return String::new() };
    let plain = text.to_string().replace('\\', "\\e").replace('-', "\\-");
    let lines = plain.lines().map(|line| match line.chars().next() {
        Some('.' | '\'') => format!("\\&{line}\n"),
        _ => format!("{line}\n"),
    });
    format!("{heading}\n.nf\n{}.fi\n", lines.collect::<String>())
}
