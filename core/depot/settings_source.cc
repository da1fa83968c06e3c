#include "core/depot/settings_source.h"

#include <algorithm>
#include <map>

#include "absl/strings/str_cat.h"
#include "ferrule/v1/settings.pb.h"
#include "google/protobuf/io/tokenizer.h"
#include "google/protobuf/io/zero_copy_stream_impl_lite.h"

namespace ferrule::depot {
namespace {

using google::protobuf::Descriptor;
using google::protobuf::FieldDescriptor;
using google::protobuf::io::Tokenizer;

constexpr int kTabWidth = 8;  // the tokenizer's

// The parser that runs beside this reading reports the same errors.
class Silent : public google::protobuf::io::ErrorCollector {
 public:
  void AddError(int, int, const std::string&) override {}
};

// Byte offsets of lines and columns that only grow.
class Offsets {
 public:
  explicit Offsets(std::string_view text) : text_(text) {}

  size_t Of(int line, int column) {
    while (at_ < text_.size() && (line_ < line || column_ < column)) {
      if (text_[at_] == '\n') {
        ++line_;
        column_ = 0;
      } else {
        column_ += text_[at_] == '\t' ? kTabWidth - column_ % kTabWidth : 1;
      }
      ++at_;
    }
    return at_;
  }

 private:
  std::string_view text_;
  size_t at_ = 0;
  int line_ = 0;
  int column_ = 0;
};

bool IsWord(std::string_view text) {
  return !text.empty() && ((text[0] >= 'a' && text[0] <= 'z') ||
                           (text[0] >= 'A' && text[0] <= 'Z') || text[0] == '_');
}

bool IsQuote(std::string_view text) { return !text.empty() && (text[0] == '"' || text[0] == '\''); }

}  // namespace

// A block or a list whose end is still to come.
struct SettingsSource::Block {
  const Descriptor* type = nullptr;  // of a block's content; null when not known
  std::string path;                  // of a block
  int statement = -1;                // of a block
  bool list = false;
  std::string name;                 // of a list's field
  std::map<std::string, int> seen;  // statements of each name so far
};

SettingsSource::SettingsSource(std::string_view text) {
  ReadWords(text);
  ReadStatements();
}

void SettingsSource::ReadWords(std::string_view text) {
  google::protobuf::io::ArrayInputStream stream(text.data(), static_cast<int>(text.size()));
  Silent silent;
  Tokenizer tokens(&stream, &silent);
  tokens.set_comment_style(Tokenizer::SH_COMMENT_STYLE);
  tokens.set_require_space_after_number(false);
  tokens.set_allow_f_after_float(true);
  Offsets offsets(text);
  while (tokens.Next()) {
    const Tokenizer::Token& token = tokens.current();
    Word word;
    word.text = token.text;
    word.line = token.line;
    word.column = token.column;
    word.begin = offsets.Of(token.line, token.column);
    word.end = word.begin + token.text.size();
    words_.push_back(std::move(word));
  }
}

bool SettingsSource::Is(size_t at, std::string_view text) const {
  return at < words_.size() && words_[at].text == text;
}

void SettingsSource::ReadStatements() {
  std::vector<Block> open(1);
  open[0].type = v1::Settings::descriptor();
  for (size_t at = 0; at < words_.size();) {
    words_[at].statement = open.back().statement;
    if (Is(at, "}") || Is(at, ">") || Is(at, "]")) {
      Close(at++, &open);
    } else if (open.back().list) {
      at = ReadListElement(at, &open);
    } else if (IsWord(words_[at].text)) {
      at = ReadStatement(at, &open);
    } else {
      ++at;
    }
  }
}

int SettingsSource::AddStatement(size_t at, std::string_view name, Block* in) {
  const std::string key(name);
  const int index = in->seen[key]++;
  Statement statement;
  statement.within = in->type;
  statement.field = in->type == nullptr ? nullptr : in->type->FindFieldByName(key);
  statement.line = words_[at].line + 1;
  statement.begin = words_[at].begin;
  statement.end = words_[at].end;
  statement.path = in->path.empty() ? key : absl::StrCat(in->path, ".", key);
  if (statement.field != nullptr && statement.field->is_repeated()) {
    absl::StrAppend(&statement.path, "[", index, "]");
  }
  statements_.push_back(std::move(statement));
  return static_cast<int>(statements_.size()) - 1;
}

// `name: value`, `name { ... }` or `name: [ ... ]`; gives the word after what was read.
size_t SettingsSource::ReadStatement(size_t at, std::vector<Block>* open) {
  const std::string name = words_[at].text;
  size_t next = at + 1;
  if (Is(next, ":")) ++next;
  if (Is(next, "[")) {
    Block list = open->back();
    list.list = true;
    list.name = name;
    open->push_back(std::move(list));
    return next + 1;
  }
  const int statement = AddStatement(at, name, &open->back());
  Statement& added = statements_[static_cast<size_t>(statement)];
  const size_t after = Is(next, "{") || Is(next, "<") ? next + 1 : 0;
  for (size_t i = at; i < std::max(next, after) && i < words_.size(); ++i) {
    words_[i].statement = statement;
  }
  if (after == 0) return ReadScalar(next, statement);
  added.block = true;
  Block block;
  block.type = added.field == nullptr ? nullptr : added.field->message_type();
  block.path = added.path;
  block.statement = statement;
  open->push_back(std::move(block));
  return after;
}

// A number with its sign, a word, or texts that stand side by side.
size_t SettingsSource::ReadScalar(size_t at, int statement) {
  Statement& s = statements_[static_cast<size_t>(statement)];
  s.closed = true;
  size_t end = at;
  if (Is(end, "-")) ++end;
  const bool quoted = end < words_.size() && IsQuote(words_[end].text);
  // A word with a colon after it begins the next statement: the value is missing.
  const bool missing = Is(end, "}") || Is(end, ">") || Is(end + 1, ":") || Is(end + 1, "{");
  if (!missing && end < words_.size()) ++end;
  while (quoted && end < words_.size() && IsQuote(words_[end].text)) ++end;
  for (size_t i = at; i < end; ++i) words_[i].statement = statement;
  if (end > at) s.end = words_[end - 1].end;
  return end;
}

size_t SettingsSource::ReadListElement(size_t at, std::vector<Block>* open) {
  if (Is(at, ",")) return at + 1;
  Block& list = open->back();
  const int statement = AddStatement(at, list.name, &list);
  words_[at].statement = statement;
  if (!Is(at, "{") && !Is(at, "<")) return std::max(at + 1, ReadScalar(at, statement));
  Statement& added = statements_[static_cast<size_t>(statement)];
  added.block = true;
  Block block;
  block.type = added.field == nullptr ? nullptr : added.field->message_type();
  block.path = added.path;
  block.statement = statement;
  open->push_back(std::move(block));
  return at + 1;
}

void SettingsSource::Close(size_t at, std::vector<Block>* open) {
  if (open->size() == 1) return;  // one too many: the parser says so
  const Block& last = open->back();
  if (last.list) {
    Block& around = (*open)[open->size() - 2];
    around.seen = last.seen;
  } else {
    Statement& s = statements_[static_cast<size_t>(last.statement)];
    s.closed = true;
    s.end = words_[at].end;
  }
  open->pop_back();
}

int SettingsSource::LineOf(std::string_view path) const {
  while (!path.empty()) {
    for (const Statement& s : statements_) {
      if (s.path == path) return s.line;
    }
    const size_t dot = path.rfind('.');
    path = path.substr(0, dot == std::string_view::npos ? 0 : dot);
  }
  return 0;
}

const Statement* SettingsSource::At(int line, int column, std::string_view complaint) const {
  const auto after = std::find_if(words_.begin(), words_.end(), [&](const Word& w) {
    return w.line > line || (w.line == line && w.column > column);
  });
  if (after == words_.begin()) return nullptr;
  auto word = std::prev(after);
  const auto quoted = [&](const Word& w) {
    return complaint.find(absl::StrCat("\"", w.text, "\"")) != std::string_view::npos;
  };
  // The parser has moved on by one word when it finds that a value is none of an enum's.
  const bool end_of_text = after == words_.end() && (word->line < line || word->column < column);
  if (!quoted(*word) && !end_of_text && word != words_.begin() && quoted(*std::prev(word))) --word;
  return word->statement < 0 ? nullptr : &statements_[static_cast<size_t>(word->statement)];
}

}  // namespace ferrule::depot
