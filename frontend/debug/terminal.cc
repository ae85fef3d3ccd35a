#include "terminal.h"

#include <histedit.h>

#include <algorithm>
#include <cerrno>
#include <clocale>
#include <cstdio>

#include "prewire/text.h"

namespace prewire::front::debug {

namespace {

constexpr int kLinesBefore = 500;
constexpr std::size_t kColumns = 78;

/// The longest beginning that all have in common.
std::string common(const std::vector<std::string>& words) {
  std::string beginning = words.front();
  for (const std::string& word : words) {
    const auto differs = std::mismatch(beginning.begin(), beginning.end(), word.begin(), word.end()).first;
    beginning.erase(differs, beginning.end());
  }
  return beginning;
}

}  // namespace

struct Terminal::Inside {
  std::string prompt;
  Complete complete;
  EditLine* editor = nullptr;
  ::History* before = nullptr;

  static Inside& of(EditLine* editor) {
    void* data = nullptr;
    el_get(editor, EL_CLIENTDATA, &data);
    return *static_cast<Inside*>(data);
  }
  static char* show_prompt(EditLine* editor) { return of(editor).prompt.data(); }

  static unsigned char on_tab(EditLine* editor, int /*key*/) {
    const LineInfo* info = el_line(editor);
    const std::string_view line(info->buffer, static_cast<std::size_t>(info->cursor - info->buffer));
    const std::vector<std::string> words = of(editor).complete(line);
    if (words.empty()) return CC_REFRESH_BEEP;
    const std::size_t blank = line.find_last_of(" \t");
    const std::size_t begun = blank == std::string_view::npos ? line.size() : line.size() - blank - 1;
    std::string more = common(words).substr(begun);
    if (words.size() == 1) more += ' ';
    if (!more.empty()) {
      el_insertstr(editor, more.c_str());
      return CC_REFRESH;
    }
    std::string list = "\n";
    std::size_t column = 0;
    for (const std::string& word : words) {
      if (column > 0 && column + word.size() + 2 > kColumns) {
        list += '\n';
        column = 0;
      }
      list += word + "  ";
      column += word.size() + 2;
    }
    std::fputs((printable(list, "\n") + "\n").c_str(), stdout);
    std::fflush(stdout);
    return CC_REDISPLAY;
  }
};

Terminal::Terminal(std::string prompt, Complete complete) : inside_(std::make_unique<Inside>()) {
  std::setlocale(LC_CTYPE, "");
  inside_->prompt = std::move(prompt);
  inside_->complete = std::move(complete);
  inside_->editor = el_init("prewire", stdin, stdout, stderr);
  inside_->before = history_init();
  HistEvent event;
  history(inside_->before, &event, H_SETSIZE, kLinesBefore);
  history(inside_->before, &event, H_SETUNIQUE, 1);
  EditLine* editor = inside_->editor;
  el_set(editor, EL_CLIENTDATA, inside_.get());
  el_set(editor, EL_PROMPT, &Inside::show_prompt);
  el_set(editor, EL_EDITOR, "emacs");
  el_set(editor, EL_HIST, history, inside_->before);
  el_set(editor, EL_ADDFN, "prewire-complete", "complete the word", &Inside::on_tab);
  el_set(editor, EL_BIND, "^I", "prewire-complete", nullptr);
  el_set(editor, EL_BIND, "^R", "em-inc-search-prev", nullptr);
  // While a line is edited Ctrl-C is a key like others: it empties the line.
  el_set(editor, EL_SETTY, "-d", "-isig", nullptr);
  el_set(editor, EL_BIND, "^C", "em-kill-line", nullptr);
}

Terminal::~Terminal() {
  history_end(inside_->before);
  el_end(inside_->editor);
}

std::optional<std::string> Terminal::line() {
  int length = 0;
  const char* text = nullptr;
  do {
    errno = 0;
    text = el_gets(inside_->editor, &length);
  } while (text == nullptr && errno == EINTR);
  if (text == nullptr || length <= 0) {
    std::fputs("\n", stdout);
    return std::nullopt;
  }
  std::string line(text, static_cast<std::size_t>(length));
  while (!line.empty() && (line.back() == '\n' || line.back() == '\r')) line.pop_back();
  if (line.find_first_not_of(" \t") != std::string::npos) {
    HistEvent event;
    history(inside_->before, &event, H_ENTER, line.c_str());
  }
  return line;
}

}  // namespace prewire::front::debug
