#include "core/exchange/csv.h"

#include <utility>

#include "core/exchange/text.h"

namespace ferrule::exchange {

std::string QuoteCsv(std::string_view text, char delimiter) {
  const std::string special = {delimiter, '"', '\r', '\n'};
  if (text.find_first_of(special) == std::string_view::npos) return std::string(text);
  std::string out = "\"";
  for (const char c : text) {
    if (c == '"') out += '"';
    out += c;
  }
  out += '"';
  return out;
}

std::string_view WithoutMark(std::string_view table) {
  constexpr std::string_view kMark = "\xEF\xBB\xBF";
  if (table.starts_with(kMark)) table.remove_prefix(kMark.size());
  return table;
}

void CsvReader::Bad(std::string why) {
  if (record_.wrong.empty()) record_.wrong = std::move(why);
}

void CsvReader::EndField() {
  record_.fields.push_back(std::exchange(field_, {}));
  state_ = State::kFieldStart;
}

void CsvReader::EndRecord(std::vector<CsvRecord>* out) {
  if (!blank_) {
    EndField();
    record_.end = offset_;
    out->push_back(std::exchange(record_, {}));
  }
  state_ = State::kFieldStart;
  field_.clear();
  record_ = {};
  blank_ = true;
  record_bytes_ = 0;
}

// One byte that is no line end outside of quotes.
void CsvReader::Take(char c, std::vector<CsvRecord>*) {
  switch (state_) {
    case State::kFieldStart:
      if (c == '"') {
        state_ = State::kQuoted;
      } else if (c == delimiter_) {
        EndField();
      } else {
        state_ = State::kPlain;
        Put(c);
      }
      return;
    case State::kPlain:
      if (c == delimiter_) return EndField();
      if (c == '"' && Strip(field_).empty()) {
        Bad("a quote stands after blanks at the beginning of a field: take the blanks away, or put "
            "them inside of the quotes");
      }
      return Put(c);
    case State::kQuoted:
      if (c == '"') {
        state_ = State::kQuoteInQuoted;
      } else {
        Put(c);
      }
      return;
    case State::kQuoteInQuoted:
      if (c == '"') {
        Put(c);
        state_ = State::kQuoted;
      } else if (c == delimiter_) {
        EndField();
      } else {
        Bad("text stands after a closing quote: double a quote that belongs to the field");
        state_ = State::kSkipping;
      }
      return;
    case State::kSkipping:
      return;
  }
}

std::vector<CsvRecord> CsvReader::Feed(std::string_view bytes, bool last) {
  std::vector<CsvRecord> out;
  for (const char c : bytes) {
    const bool quoted = state_ == State::kQuoted;
    if (pending_cr_) {
      pending_cr_ = false;
      if (c == '\n') {
        // The record ended with the CR; its end is after the LF.
        ++offset_;
        if (!out.empty() && blank_) out.back().end = offset_;
        continue;
      }
    }
    if (blank_ && record_bytes_ == 0) {
      record_.line = line_;
      record_.offset = offset_;
    }
    ++offset_;
    if (c == '\n') ++line_;
    if ((c == '\n' || c == '\r') && !quoted) {
      if (c == '\r') {
        pending_cr_ = true;
        ++line_;
      }
      EndRecord(&out);
      continue;
    }
    blank_ = false;
    if (++record_bytes_ > kMostRecordBytes) {
      Bad(Cat("the record has more than ", kMostRecordBytes, " bytes: a quote may not be closed"));
      field_.clear();
      state_ = State::kSkipping;
      continue;
    }
    Take(c, &out);
  }
  if (last && !blank_) {
    if (state_ == State::kQuoted) Bad("the last quote is not closed");
    EndRecord(&out);
  }
  return out;
}

}  // namespace ferrule::exchange
