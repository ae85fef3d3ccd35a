// The handout as one page of HTML that prints on A4 and on Letter and needs no other file.
#include <fmt/format.h>

#include <algorithm>

#include "diagram.h"
#include "handout.h"
#include "markup.h"

namespace prewire::handout {

namespace {

// 182 mm of text fit both papers. Nothing depends on colour: purposes have letters, and swatches have names.
constexpr std::string_view kStyle = R"(
@page { margin: 12mm 14mm; }
* { box-sizing: border-box; }
body { font: 9.5pt/1.35 Arial, Helvetica, "DejaVu Sans", sans-serif; color: #000; background: #fff; max-width: 182mm;
  margin: 8mm auto; padding: 0 4mm; }
h1 { font-size: 20pt; line-height: 1.15; margin: 0 0 2mm; }
h2 { font-size: 13pt; margin: 8mm 0 2mm; padding-bottom: 1mm; border-bottom: .6mm solid #000; break-after: avoid; }
h3 { font-size: 10pt; margin: 4mm 0 1mm; break-after: avoid; }
p { margin: 0 0 2mm; }
ul { margin: 0 0 2mm; padding-left: 5mm; }
li { margin-bottom: .7mm; }
.lead { font-size: 11pt; }
.caution { border: .6mm solid #000; padding: 2mm 4mm 1mm; margin: 4mm 0; break-inside: avoid; }
.caution h3 { margin-top: 0; }
.box { display: inline-block; width: 3mm; height: 3mm; border: .3mm solid #000; margin-right: 1.6mm; vertical-align: -.4mm;
  flex: none; }
table { border-collapse: collapse; width: 100%; margin: 0 0 3mm; }
th, td { border-bottom: .2mm solid #888; padding: .8mm 1.5mm; text-align: left; vertical-align: top; }
th { border-bottom: .4mm solid #000; font-size: 8.5pt; }
tr { break-inside: avoid; }
.parts { display: grid; grid-template-columns: repeat(3, 1fr); gap: 4mm 6mm; }
.part { break-inside: avoid; }
.part b { font-size: 10pt; }
.pins { font-size: 7.5pt; line-height: 1.25; margin: 1mm auto 0; width: 48mm; }
.pins td { border: 0; padding: 0 1mm; white-space: nowrap; }
.pins td:nth-child(1) { text-align: right; width: 22mm; }
.pins td:nth-child(2) { text-align: left; width: 5mm; border-left: .4mm solid #000; }
.pins td:nth-child(3) { text-align: right; width: 5mm; border-right: .4mm solid #000; }
.pins tr:first-child td:nth-child(2), .pins tr:first-child td:nth-child(3) { border-top: .4mm solid #000; }
.pins tr:last-child td:nth-child(2), .pins tr:last-child td:nth-child(3) { border-bottom: .4mm solid #000; }
.wires { columns: 2; column-gap: 6mm; column-rule: .2mm solid #888; }
.wire { display: flex; align-items: baseline; font-size: 8.2pt; line-height: 1.3; border-bottom: .15mm dotted #888;
  padding: .3mm 0; break-inside: avoid; }
.wire .what { flex: 1; }
.wire .kind { font-weight: bold; white-space: nowrap; margin-left: 1.5mm; }
.legend span { display: inline-block; margin-right: 4mm; white-space: nowrap; }
.swatch { display: inline-block; width: 6mm; height: 2.4mm; border: .25mm solid #000; margin-right: 1mm;
  print-color-adjust: exact; -webkit-print-color-adjust: exact; }
.sheet { break-inside: avoid; margin: 0 0 5mm; }
.sheet svg { display: block; width: 100%; height: auto; }
.caption { font-size: 8pt; margin: 0; }
.keys { font: 7.6pt/1.45 "DejaVu Sans Mono", "Liberation Mono", Consolas, monospace; margin: 0; white-space: pre-wrap;
  padding-left: 6mm; }
.keys span { display: block; padding-left: 44mm; text-indent: -44mm; break-inside: avoid; }
.keys .even { background: #eee; print-color-adjust: exact; -webkit-print-color-adjust: exact; }
.seen { font: bold 12pt "DejaVu Sans Mono", "Liberation Mono", monospace; white-space: pre; border: .3mm solid #000;
  padding: 0 1.5mm; }
.sign { margin-top: 6mm; }
@media print { body { margin: 0; padding: 0; max-width: none; } .new-page { break-before: page; } }
)";

std::string swatch(Purpose purpose) {
  static constexpr std::string_view kColours[] = {"#d00000", "#ff9ec0", "#000000", "#1f5fd0", "#ffe000", "#ffffff",
                                                  "#9a9a9a", "#ff8a00", "#108a30", "#7a3fb0", "#7a4a1e"};
  return fmt::format("<i class=\"swatch\" style=\"background:{}\"></i>", kColours[static_cast<std::size_t>(purpose)]);
}

constexpr std::string_view kBox = "<span class=\"box\"></span>";

std::string pinout_html(const Part& part) {
  if (!part.packaged()) {
    return fmt::format("<br/>{}: {}", part.kind == Part::Kind::block ? "Connections" : "Ends",
                       escaped(terminals_of(part)));
  }
  std::string text = "<table class=\"pins\">";
  for (std::size_t i = 0; i < part.pins.size() / 2; ++i) {
    const Terminal &left = part.pins[i], &right = part.pins[part.pins.size() - 1 - i];
    text += fmt::format("<tr><td>{}</td><td>{}</td><td>{}</td><td>{}</td></tr>\n", escaped(left.name), left.number,
                        right.number, escaped(right.name));
  }
  return text + "</table>";
}

std::string parts_html(const Board& board) {
  std::string text = "<h2>Parts</h2>\n<p>Packages seen from above, notch at the top.</p>\n<div class=\"parts\">\n";
  for (const bool packaged : {true, false}) {
    for (const Part& part : board.parts) {
      if (part.kind == Part::Kind::rail || part.packaged() != packaged) continue;
      std::string what = part.what;
      if (!part.value.empty()) what += ", " + part.value;
      text += fmt::format("<div class=\"part\">{}<b>{}{}</b> {}{}</div>\n", kBox, escaped(part.ref),
                          part.name.empty() || part.name == part.ref ? "" : " " + escaped(part.name), escaped(what),
                          pinout_html(part));
    }
  }
  return text + "</div>\n";
}

std::string selects_html(const Board& board) {
  std::string text =
      "<h2>Selects: what the address decoder has to do</h2>\n<table>\n<tr><th>Chip</th><th>Answers at</th>"
      "<th>Decoder output</th><th>Active when</th></tr>\n";
  for (const Select& select : board.selects) {
    const Part& part = board.parts[static_cast<std::size_t>(select.part)];
    text += fmt::format("<tr><td><b>{} {}</b></td><td>{}</td><td>{}, active {}</td><td>{}</td></tr>\n",
                        escaped(part.ref), escaped(part.name), escaped(select.where), escaped(select.output),
                        select.high ? "high" : "low", escaped(condition(select)));
  }
  text += "</table>\n<ul>";
  for (const std::string& line : decoder_notes(board)) text += fmt::format("<li>{}</li>", escaped(line));
  return text + "</ul>\n";
}

std::string wires_html(const Board& board) {
  std::string text =
      "<h2 class=\"new-page\">Wiring list</h2>\n<p>One line for each wire, in the order in which to lay them. Tick "
      "what is "
      "done and looked at twice. Colours are a suggestion; the letter says what the wire is for.</p>\n"
      "<p class=\"legend\">";
  for (int i = 0; i < kPurposes; ++i) {
    const auto purpose = static_cast<Purpose>(i);
    const bool used =
        std::any_of(board.nets.begin(), board.nets.end(), [&](const Net& net) { return net.purpose == purpose; });
    if (!used) continue;
    const PurposeStyle& style = style_of(purpose);
    text += fmt::format("<span>{}<b>{}</b> {}: {}</span> ", swatch(purpose), style.letter, style.name, style.colour);
  }
  text += "</p>\n";
  int number = 0;
  for (const Step& step : board.steps) {
    text += fmt::format("<h3>{}. {}</h3>\n", ++number, escaped(step.title));
    if (!step.about.empty()) text += fmt::format("<p>{}</p>\n", escaped(step.about));
    text += "<div class=\"wires\">\n";
    for (const Wire& wire : step.wires) {
      const PurposeStyle& style = style_of(board.nets[static_cast<std::size_t>(wire.net)].purpose);
      text += fmt::format(
          "<div class=\"wire\">{}<span class=\"what\">{} &#8211; {}</span><span class=\"kind\">{} {}</span></div>\n",
          kBox, escaped(to_string(board, wire.from)), escaped(to_string(board, wire.to)), style.letter, style.colour);
    }
    for (const std::string& line : step.also) {
      text += fmt::format("<div class=\"wire\">{}<span class=\"what\">{}</span></div>\n", kBox, escaped(line));
    }
    text += "</div>\n";
  }
  return text;
}

std::string notes_html(const Board& board) {
  std::string text;
  for (std::size_t i = 0; i < board.notes.size(); ++i) {
    const Notes& each = board.notes[i];
    text += fmt::format("<div{}><h3>{}</h3>\n<ul>", i == 0 ? " class=\"caution\"" : "", escaped(each.title));
    for (const std::string& line : each.lines) text += fmt::format("<li>{}</li>\n", escaped(line));
    text += "</ul></div>\n";
  }
  return text;
}

std::string drawings_html(const Board& board) {
  std::string text =
      "<h2 class=\"new-page\">Wiring diagram</h2>\n<p>Chips as they lie on the board, notch at the top, with pin "
      "numbers. "
      "Ends with the same name are joined; thick lines are buses, and the name at each pin says which of its lines it "
      "is. A "
      "small circle is a supply, a bar across the line is GND, a cross is no wire.</p>\n";
  int row = 0;
  for (const std::string& svg : diagram(board)) {
    text += fmt::format("<div class=\"sheet\"><p class=\"caption\">Row {}</p>\n{}</div>\n", ++row, svg);
  }
  return text;
}

std::string keys_html(const KeySheet& sheet) {
  std::string text =
      "<h2 class=\"new-page\">Key-in sheet</h2>\n<p>Address, bytes, checksum, what the bytes are, the line of source. "
      "<b>Checksum</b>, behind the semicolon: add the bytes of the line, without the address, and keep the last two "
      "hex "
      "digits.</p>\n<div class=\"keys\">";
  const std::string all = to_text(sheet);
  bool even = false;
  for (std::size_t at = 0; at < all.size();) {
    const std::size_t end = all.find('\n', at);
    const std::string line = all.substr(at, end - at);
    even = !line.empty() && line[0] != ';' && !even;
    text += fmt::format("<span{}>{}\n</span>", even ? " class=\"even\"" : "", escaped(line));
    at = end + 1;
  }
  return text + "</div>\n";
}

std::string shows_html(const Expected& expected) {
  std::string text =
      "<h2>What the board should show</h2>\n<p>From a run of this very machine with this very program, until nothing "
      "changed any more.</p>\n<table>\n<tr><th></th><th>Set</th><th>Voltage</th>";
  for (const std::string& group : expected.groups) text += fmt::format("<th>{}</th>", escaped(group));
  for (const std::string& led : expected.leds) text += fmt::format("<th>{}</th>", escaped(led));
  text += "<th>Seen on the board</th></tr>\n";
  for (const Reading& reading : expected.readings) {
    const std::string set = reading.part.empty()
                                ? "as switched on"
                                : fmt::format("<b>{}</b> at {}", escaped(reading.part), escaped(reading.value));
    text += fmt::format("<tr><td>{}</td><td>{}</td><td>{}</td>", kBox, set, escaped(reading.volts));
    for (const auto& [group, shown] : reading.texts) {
      text += fmt::format("<td><span class=\"seen\">{}</span></td>", escaped(shown));
    }
    for (const auto& [led, on] : reading.leds) text += fmt::format("<td>{}</td>", on ? "<b>on</b>" : "off");
    text += fmt::format("<td>{}</td></tr>\n", escaped(reading.remark));
  }
  return text + "</table>\n";
}

}  // namespace

std::string to_html(const Handout& handout) {
  const unsigned sections = handout.sections;
  std::string text(kHtmlMark);
  text += fmt::format(
      "<html xmlns=\"http://www.w3.org/1999/xhtml\" lang=\"en\">\n<head>\n<meta charset=\"utf-8\"/>\n"
      "<meta name=\"viewport\" content=\"width=device-width, "
      "initial-scale=1\"/>\n<title>{0}</title>\n<style>{1}</style>\n"
      "</head>\n<body>\n<h1>{0}</h1>\n",
      escaped(handout.title), kStyle);
  if (!handout.about.empty()) text += fmt::format("<p class=\"lead\">{}</p>\n", escaped(handout.about));
  text += fmt::format("<p>{}. Built by ________________________ Date ______________</p>\n", escaped(handout.processor));
  if (!handout.remarks.empty()) {
    text += "<div class=\"caution\"><h3>The check of the machine file says</h3><ul>";
    for (const std::string& remark : handout.remarks) text += fmt::format("<li>{}</li>", escaped(remark));
    text += "</ul></div>\n";
  }
  if ((sections & kNotes) != 0) text += notes_html(handout.board);
  if ((sections & kParts) != 0) text += parts_html(handout.board);
  if ((sections & kSelects) != 0 && !handout.board.selects.empty()) text += selects_html(handout.board);
  if ((sections & kWires) != 0) text += wires_html(handout.board);
  if ((sections & kDiagram) != 0) text += drawings_html(handout.board);
  if ((sections & kKeys) != 0 && !handout.keys.lines.empty()) text += keys_html(handout.keys);
  if ((sections & kShows) != 0) text += shows_html(handout.expected);
  return text + "</body>\n</html>\n";
}

}  // namespace prewire::handout
