// Where in a settings file each field stands, so that an error can name line and field.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "google/protobuf/descriptor.h"

namespace ferrule::depot {

// One statement of the file: `id: "north"`, or a block `places { ... }`.
struct Statement {
  std::string path;  // "branches[0].places[2].id"
  int line = 0;      // from 1
  // The field; null when its message has none of that name.
  const google::protobuf::FieldDescriptor* field = nullptr;
  // The message that it stands in; null inside a block that is not known.
  const google::protobuf::Descriptor* within = nullptr;
  bool block = false;
  bool closed = false;  // always so for what is no block
  size_t begin = 0;     // bytes of the text, half-open
  size_t end = 0;
};

// A light reading of protobuf text format that goes on whatever is wrong with the content.
class SettingsSource {
 public:
  explicit SettingsSource(std::string_view text);

  // Line of that field; when it is not in the file, the line of the nearest block around it; 0 when
  // the file has none of them.
  int LineOf(std::string_view path) const;
  // The innermost statement that a parser's complaint is about; null when there is none. Lines and
  // columns are from 0 as the parser gives them. It may point one word too far: the word that the
  // complaint quotes decides.
  const Statement* At(int line, int column, std::string_view complaint) const;

 private:
  struct Word {
    std::string text;
    int line = 0;    // from 0
    int column = 0;  // from 0, tabs to the next multiple of 8
    size_t begin = 0;
    size_t end = 0;
    int statement = -1;  // innermost, an index into statements_
  };
  struct Block;

  void ReadWords(std::string_view text);
  void ReadStatements();
  size_t ReadStatement(size_t at, std::vector<Block>* open);
  size_t ReadScalar(size_t at, int statement);
  size_t ReadListElement(size_t at, std::vector<Block>* open);
  int AddStatement(size_t at, std::string_view name, Block* in);
  void Close(size_t at, std::vector<Block>* open);
  bool Is(size_t at, std::string_view text) const;

  std::vector<Word> words_;
  std::vector<Statement> statements_;
};

}  // namespace ferrule::depot
