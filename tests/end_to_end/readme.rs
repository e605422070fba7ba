//! Every command line that README.md and the help texts show is one the program takes.

use boretally::cli::registry::{COMMANDS, definition};
use clap::Command;
use clap::error::ErrorKind;

const README: &str = include_str!("../../README.md");

/// The command lines of fenced blocks and of inline code that name the program and an argument.
fn command_lines(markdown: &str) -> Vec<String> {
    let mut lines = Vec::new();
    let mut prose = String::new();
    let mut fenced = false;
    for line in markdown.lines() {
        if line.starts_with("```") {
            fenced = !fenced;
        } else if fenced {
            lines.push(line.to_owned());
        } else {
            prose.push_str(line);
            prose.push(' ');
        }
    }
    lines.extend(prose.split('`').skip(1).step_by(2).map(str::to_owned));
    lines.retain(|line| line.starts_with("boretally "));
    lines
}

/// What a shell would pass on: words, quotes taken off, redirections and comments cut.
fn words(line: &str) -> Vec<String> {
    let mut words = Vec::new();
    for word in line.split_whitespace() {
        if word == ">" || word == "|" || word == "#" {
            break;
        }
        words.push(word.trim_matches(['"', '\'']).to_owned());
    }
    words
}

fn check(line: &str) {
    match definition().try_get_matches_from(words(line)) {
        Ok(_) => {}
        Err(e) if e.kind() == ErrorKind::DisplayHelp => {}
        Err(e) => panic!("{line}\n{e}"),
    }
}

#[test]
fn command_lines_of_the_readme_are_understood() {
    let lines = command_lines(README);
    assert!(lines.len() >= 8, "found only {lines:?}");
    for line in lines {
        // `boretally COMMAND --help` stands for every command.
        check(&line.replace("COMMAND", "rates"));
    }
}

#[test]
fn the_check_notices_a_wrong_option() {
    let found = command_lines(
        "Use `boretally rates --stroe x`.\n```\nboretally interval prop 1 2 # why\n```\n",
    );
    assert_eq!(
        found,
        [
            "boretally interval prop 1 2 # why",
            "boretally rates --stroe x"
        ]
    );
    for line in found {
        assert!(
            definition().try_get_matches_from(words(&line)).is_err(),
            "{line}"
        );
    }
}

#[test]
fn the_readme_names_every_command() {
    for command in COMMANDS {
        assert!(
            README.contains(&format!("boretally {}", command.name)),
            "README.md does not name {}",
            command.name
        );
    }
}

fn examples(command: &Command, found: &mut usize) {
    if let Some(text) = command.get_after_help() {
        for line in text.to_string().lines().map(str::trim) {
            if line.starts_with("boretally ") {
                check(line);
                *found += 1;
            }
        }
    }
    for below in command.get_subcommands() {
        examples(below, found);
    }
}

#[test]
fn the_examples_in_the_help_are_understood() {
    let mut found = 0;
    examples(&definition(), &mut found);
    assert!(found >= COMMANDS.len(), "{found} examples");
}
