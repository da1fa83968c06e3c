// The station at the bench: a person scans a unit, the cards of what was done, a place; every line
// is answered in words, with what is next.
#pragma once

#include <cstdint>
#include <map>
#include <optional>
#include <string>

#include "cli/journal.h"
#include "cli/session.h"
#include "cli/station_sender.h"
#include "core/label/card.h"
#include "core/time/clock.h"
#include "ferrule/v1/states.pb.h"

namespace ferrule::cli {

class Station {
 public:
  // `actor` may be empty: then a person must be scanned first.
  Station(Session& session, Journal& journal, const time::Clock& clock, std::string actor);

  // Answers one line as scanned or typed; the answer ends with a line break, or is empty.
  std::string Handle(const std::string& line);
  // What waited from before is sent.
  std::string Begin();
  bool ended() const { return ended_; }
  // "K-0417> ", for a terminal.
  std::string Prompt() const;

 private:
  // What is collected for the unit and not yet sent.
  struct Collected {
    std::optional<int64_t> wet_from_us;
    std::optional<int64_t> wet_to_us;
    bool cleaning = false;  // /clean was sent here
    std::map<std::string, double> readings;
  };
  struct Product {
    std::string id;
    std::string lot;
    std::optional<absl::CivilDay> expires;
  };

  std::string OnCard(const label::StationLine& line);
  std::string OnUnitCard(const label::StationLine& line);
  std::string OnScan(const std::string& text);
  std::string OnReadings(const label::StationLine& line);
  std::string Offline(const std::string& text);

  std::string TakeUnit(const std::string& unit);
  std::string TakeProduct(const Product& product);
  std::string TakeProductCard(const std::vector<std::string>& words);
  std::string PutAt(const std::string& place);
  std::string Wet(const std::vector<std::string>& words);
  std::string Cleaned();
  std::string Hold(const std::vector<std::string>& words);
  std::string Inspected(const v1::Checklist& checklist);
  std::string Queue();

  // Sends one fact about the unit and says how it stands then.
  std::string Report(const v1::Fact& fact) { return Report(std::vector<v1::Fact>{fact}); }
  std::string Report(const std::vector<v1::Fact>& facts);
  // The unit as it stands, and what is next.
  std::string Standing();
  std::string Next(const v1::AssessUnitResponse& answer);
  // Why the unit cannot be changed now; empty when nothing is collected.
  std::string Unsent() const;

  v1::Fact FactAt(int64_t us) const;
  const v1::Place* FindPlace(const std::string& id);
  const v1::CleaningProduct* FindProduct(const std::string& id);
  const v1::Checklist* FindChecklist();
  void ReadRules();
  absl::TimeZone Zone();

  Session& session_;
  Journal& journal_;
  StationSender sender_;
  const time::Clock& clock_;
  std::string actor_;
  std::string unit_;     // empty: none scanned yet
  v1::UnitState state_;  // as it stood when last asked; empty when the server was away
  std::string tester_;   // goes on from unit to unit, as the bottle does
  Product product_;
  Collected collected_;
  v1::Settings rules_;  // the last that could be read, for when the server is away
  bool ended_ = false;
};

}  // namespace ferrule::cli
