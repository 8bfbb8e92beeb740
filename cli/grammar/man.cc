#include "cli/grammar/man.h"

#include <cctype>

#include <fmt/format.h>

#include "cli/grammar/help.h"

namespace broodpact::cli {
namespace {

// Text as roff reads it back: backslashes and hyphens as they are, and no line that begins with a
// control character of roff.
std::string Roff(std::string_view text) {
  std::string roff;
  for (std::size_t i = 0; i < text.size(); ++i) {
    const bool begins_line = i == 0 || text[i - 1] == '\n';
    if (begins_line && (text[i] == '.' || text[i] == '\'')) roff += "\\&";
    if (text[i] == '\\') {
      roff += "\\e";
    } else if (text[i] == '-') {
      roff += "\\-";
    } else {
      roff += text[i];
    }
  }
  return roff;
}

std::string Upper(std::string text) {
  for (char& c : text) c = static_cast<char>(std::toupper(static_cast<unsigned char>(c)));
  return text;
}

std::string Heading(const std::string& page_name, std::string_view what) {
  return fmt::format(
      ".\\\" Written by `broodpact man`; edit the commands instead.\n"
      ".TH {} 1 \"\" broodpact \"Broodpact manual\"\n.SH NAME\n{} \\- {}\n",
      Upper(page_name), Roff(page_name), Roff(what));
}

std::string ArgumentsIn(const Command& command) {
  std::string page;
  for (const auto& argument : command.arguments()) {
    const std::string name = Roff(argument->is_option() ? argument->name : "");
    const std::string value = Roff(argument->value);
    std::string choices;
    if (!argument->choices.empty()) {
      choices = fmt::format(": {}", fmt::join(argument->choices, ", "));
    }
    page += fmt::format(".TP\n{}{}{}\n{}{}\n", name.empty() ? "" : "\\fB" + name + "\\fR",
                        name.empty() || value.empty() ? "" : " ",
                        value.empty() ? "" : "\\fI" + value + "\\fR", Roff(argument->help),
                        Roff(choices));
  }
  return page;
}

std::string ExamplesIn(const Command& command) {
  std::string page;
  for (const Example& example : command.examples()) {
    page += fmt::format(".PP\n{}:\n.PP\n.RS 4\n.nf\n{}\n.fi\n.RE\n", Roff(example.comment),
                        Roff(example.line));
  }
  return page;
}

std::string NotesOf(const Command& command) {
  std::string page;
  for (const std::string& note : command.notes()) page += fmt::format(".PP\n{}\n", Roff(note));
  return page;
}

// One command that runs, as a section of its page.
std::string SectionOf(const Command& command) {
  return fmt::format(".SS {}\n{}.\n{}{}{}", Roff(UsageOf(command)), Roff(command.summary()),
                     NotesOf(command), ArgumentsIn(command), ExamplesIn(command));
}

constexpr std::string_view kEnding =
    ".SH OPTIONS OF EVERY COMMAND\nSee broodpact(1).\n.SH EXIT STATUS\nSee broodpact(1), or\n"
    "\\fBbroodpact help exit\\-codes\\fR.\n.SH SEE ALSO\nbroodpact(1)\n";

std::string PageOf(const Command& command) {
  const std::string name = "broodpact-" + command.name();
  std::string page = Heading(name, command.summary());
  page += ".SH COMMANDS\n";
  if (command.runs()) page += SectionOf(command);
  for (const auto& below : command.commands()) {
    if (!below->hidden()) page += SectionOf(*below);
  }
  return page + std::string(kEnding);
}

// A page of `broodpact help`, as it stands.
std::string TopicOf(const std::string& title, const std::string& topic) {
  return fmt::format(".SH {}\n.nf\n{}.fi\n", title, Roff(HelpOfTopic(topic)));
}

std::string RootPageOf(const Command& root) {
  std::string page = Heading("broodpact", root.summary());
  page += ".SH SYNOPSIS\n\\fBbroodpact\\fR \\fIcommand\\fR [\\fIargument\\fR ...]\n";
  page += ".SH DESCRIPTION\n" + NotesOf(root) + ".SH COMMANDS\n";
  for (const auto& command : root.commands()) {
    if (command->hidden()) continue;
    page += fmt::format(".TP\n\\fBbroodpact\\-{}\\fR(1)\n{}.\n", Roff(command->name()),
                        Roff(command->summary()));
  }
  page += ".SH OPTIONS\n" + ArgumentsIn(root);
  page += ".SH EXAMPLES\n" + ExamplesIn(root);
  page += TopicOf("WORDS", "words") + TopicOf("ENVIRONMENT", "environment");
  page += TopicOf("JSON", "json") + TopicOf("EXIT STATUS", "exit-codes");
  return page;
}

}  // namespace

std::map<std::string, std::string> ManPagesOf(const Command& root) {
  std::map<std::string, std::string> pages;
  pages["broodpact.1"] = RootPageOf(root);
  for (const auto& command : root.commands()) {
    if (command->hidden()) continue;
    pages[fmt::format("broodpact-{}.1", command->name())] = PageOf(*command);
  }
  return pages;
}

}  // namespace broodpact::cli
