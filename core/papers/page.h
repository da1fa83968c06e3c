// A page to print, as data, and its HTML: one file that needs no other, black on white, fit for one
// sheet of A4 or Letter.
#pragma once

#include <string>
#include <string_view>
#include <utility>
#include <vector>

namespace ferrule::papers {

class Page {
 public:
  Page(std::string title, std::string subtitle);

  void Heading(std::string_view text);
  // Facts in two columns. An empty value becomes a line to write on.
  void Fields(const std::vector<std::pair<std::string, std::string>>& fields);
  // A table; rows shorter than the head are filled with cells to write in.
  void Table(const std::vector<std::string>& head,
             const std::vector<std::vector<std::string>>& rows);
  // Boxes to tick.
  void Boxes(const std::vector<std::string>& items);
  void Paragraph(std::string_view text);
  // Set off by a frame: what must not be overlooked.
  void Caution(const std::vector<std::string>& sentences);
  // Lines to sign on, each with what belongs there.
  void SignHere(const std::vector<std::string>& lines);

  const std::string& title() const { return title_; }
  // The whole document in UTF-8; every text that was given is escaped.
  std::string Html() const;

 private:
  std::string title_;
  std::string subtitle_;
  std::string body_;
};

// `text` with the five characters that HTML gives a meaning written out.
std::string Escaped(std::string_view text);

}  // namespace ferrule::papers
