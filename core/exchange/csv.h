// Tables of text by RFC 4180, read in pieces: records and where each begins. Its section 3 asks to
// be liberal in what is accepted, so beyond its rules lines may end with LF alone, the delimiter
// may be another character, and a quote inside of an unquoted field stands for itself (6" strap),
// for that can be read in one way only. Blanks before a quote, or text after a closing one, can be
// read in two: the record is bad, and reading goes on with the next line.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace ferrule::exchange {

struct CsvRecord {
  std::vector<std::string> fields;
  int64_t line = 0;    // on which it begins, from 1
  int64_t offset = 0;  // of its first byte
  int64_t end = 0;     // of the first byte after it, its line end included
  std::string wrong;   // what breaks the RFC, in words; empty when nothing
};

// One field as it stands in a file: quoted when it must be.
std::string QuoteCsv(std::string_view text, char delimiter = ',');

// A table without the mark that says it is UTF-8, which spreadsheets put before the header.
std::string_view WithoutMark(std::string_view table);

class CsvReader {
 public:
  // `line` and `offset` say where in the file the first byte stands.
  explicit CsvReader(char delimiter = ',', int64_t line = 1, int64_t offset = 0)
      : delimiter_(delimiter), line_(line), offset_(offset) {}

  // The longest record that is taken; a longer one (a quote never closed) is bad and ends there.
  static constexpr size_t kMostRecordBytes = 1 << 20;

  // Gives the records that the bytes complete. A record is complete with its line end; `last` ends
  // the one in hand without. Empty lines are no records.
  std::vector<CsvRecord> Feed(std::string_view bytes, bool last);

 private:
  enum class State { kFieldStart, kPlain, kQuoted, kQuoteInQuoted, kSkipping };
  void Take(char c, std::vector<CsvRecord>* out);
  void Put(char c) { field_ += c; }
  void EndField();
  void EndRecord(std::vector<CsvRecord>* out);
  void Bad(std::string why);

  const char delimiter_;
  State state_ = State::kFieldStart;
  bool pending_cr_ = false;  // a CR was the last byte, outside of quotes
  bool blank_ = true;        // nothing of the record has been seen
  int64_t line_;
  int64_t offset_;
  CsvRecord record_;
  std::string field_;
  size_t record_bytes_ = 0;
};

}  // namespace ferrule::exchange
