// Every statement of the program, found in its source text: its parameters ascend, its name is its
// own, and both engines understand it on the program's schema.
#include <filesystem>
#include <fstream>
#include <map>
#include <regex>
#include <sstream>
#include <string>
#include <vector>

#include "core/store/connection.h"
#include "gtest/gtest.h"
#include "tests/support/depot_stores.h"

namespace ferrule::store {
namespace {

using testing::StoreKind;
using testing::TestStore;

struct Statement {
  std::string file;
  std::string name;
  std::string text;
};

std::string ContentsOf(const std::filesystem::path& path) {
  std::ifstream in(path);
  std::stringstream all;
  all << in.rdbuf();
  return all.str();
}

// The value of adjacent string literals.
std::string Unquoted(const std::string& literals) {
  static const std::regex kLiteral(R"lit("((?:[^"\\]|\\.)*)")lit");
  std::string text;
  for (std::sregex_iterator it(literals.begin(), literals.end(), kLiteral), end; it != end; ++it) {
    const std::string part = (*it)[1];
    for (size_t i = 0; i < part.size(); ++i) {
      if (part[i] == '\\' && i + 1 < part.size()) ++i;  // only \" and \\ occur in SQL
      text += part[i];
    }
  }
  return text;
}

std::vector<Statement> AllStatements() {
  // Sql kName{"name", "text" "more text"}
  static const std::regex kSql(
      R"re(Sql\s+k\w+\s*\{\s*"(\w+)"\s*,\s*((?:"(?:[^"\\]|\\.)*"\s*)+)\})re");
  std::vector<Statement> statements;
  const std::filesystem::path root = FERRULE_SOURCE_DIR;
  for (const char* folder : {"core", "service", "cli"}) {
    if (!std::filesystem::exists(root / folder)) continue;
    for (const auto& entry : std::filesystem::recursive_directory_iterator(root / folder)) {
      const std::string extension = entry.path().extension().string();
      if (extension != ".h" && extension != ".cc") continue;
      const std::string source = ContentsOf(entry.path());
      for (std::sregex_iterator it(source.begin(), source.end(), kSql), end; it != end; ++it) {
        statements.push_back(
            {std::filesystem::relative(entry.path(), root).string(), (*it)[1], Unquoted((*it)[2])});
      }
    }
  }
  return statements;
}

// Statements for one engine alone say so in their names.
bool IsFor(const Statement& statement, const std::string& engine) {
  const std::string other = engine == "sqlite" ? "postgresql_" : "sqlite_";
  return statement.name.rfind(other, 0) != 0;
}

TEST(StoreStatements, AllAreFound) {
  // Fewer would mean that the pattern above no longer finds them.
  EXPECT_GE(AllStatements().size(), 30u);
}

TEST(StoreStatements, ParametersAscendInEveryOne) {
  for (const Statement& statement : AllStatements()) {
    EXPECT_EQ(ParametersAscend({statement.name.c_str(), statement.text.c_str()}), absl::OkStatus())
        << statement.file << ": " << statement.text;
  }
}

TEST(StoreStatements, NoTwoShareAName) {
  std::map<std::string, Statement> by_name;
  for (const Statement& statement : AllStatements()) {
    const auto [it, added] = by_name.emplace(statement.name, statement);
    EXPECT_TRUE(added || it->second.text == statement.text)
        << statement.name << " in " << it->second.file << " and " << statement.file;
  }
}

TEST(StoreStatements, SqliteUnderstandsEveryOne) {
  const TestStore store(StoreKind::kSqliteMemory);
  const auto database = store.OpenMigrated();
  const auto writer = *database->OpenWriter();
  for (const Statement& statement : AllStatements()) {
    if (!IsFor(statement, "sqlite")) continue;
    const std::string explain = "EXPLAIN " + statement.text;
    EXPECT_EQ(writer->RunScript({statement.name.c_str(), explain.c_str()}), absl::OkStatus())
        << statement.file << ": " << statement.text;
  }
}

TEST(StoreStatements, PostgresqlUnderstandsEveryOne) {
  const TestStore store(StoreKind::kPostgres);
  const auto database = store.OpenMigrated();
  const auto writer = *database->OpenWriter();
  for (const Statement& statement : AllStatements()) {
    if (!IsFor(statement, "postgresql")) continue;
    const std::string prepare = "PREPARE test AS " + statement.text + "; DEALLOCATE test";
    EXPECT_EQ(writer->RunScript({statement.name.c_str(), prepare.c_str()}), absl::OkStatus())
        << statement.file << ": " << statement.text;
  }
}

}  // namespace
}  // namespace ferrule::store
