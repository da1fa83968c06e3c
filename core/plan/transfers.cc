#include "core/plan/transfers.h"

#include <algorithm>
#include <cmath>
#include <map>
#include <utility>

#include "boost/graph/adjacency_list.hpp"
#include "boost/graph/successive_shortest_path_nonnegative_weights.hpp"

namespace ferrule::plan {
namespace {

using Traits = boost::adjacency_list_traits<boost::vecS, boost::vecS, boost::directedS>;
// Costs in whole millionths: exact, so that equal plans stay equal. Kept as doubles, since the
// library adds up the distances of nodes out of reach, which no integer can hold.
constexpr double kScale = 1e6;

using Graph = boost::adjacency_list<
    boost::vecS, boost::vecS, boost::directedS, boost::no_property,
    boost::property<
        boost::edge_capacity_t, long,
        boost::property<boost::edge_residual_capacity_t, long,
                        boost::property<boost::edge_reverse_t, Traits::edge_descriptor,
                                        boost::property<boost::edge_weight_t, double>>>>>;

class Network {
 public:
  explicit Network(size_t nodes) : graph_(nodes) {}

  Traits::edge_descriptor Add(size_t from, size_t to, long capacity, double cost) {
    const auto forth = boost::add_edge(from, to, graph_).first;
    const auto back = boost::add_edge(to, from, graph_).first;
    Put(forth, back, capacity, cost);
    Put(back, forth, 0, -cost);
    return forth;
  }
  void Solve(size_t source, size_t sink) {
    boost::successive_shortest_path_nonnegative_weights(graph_, source, sink);
  }
  long Flow(Traits::edge_descriptor edge) const {
    return boost::get(boost::edge_capacity, graph_, edge) -
           boost::get(boost::edge_residual_capacity, graph_, edge);
  }

 private:
  void Put(Traits::edge_descriptor edge, Traits::edge_descriptor reverse, long capacity,
           double cost) {
    boost::put(boost::edge_capacity, graph_, edge, capacity);
    boost::put(boost::edge_residual_capacity, graph_, edge, capacity);
    boost::put(boost::edge_reverse, graph_, edge, reverse);
    boost::put(boost::edge_weight, graph_, edge, cost);
  }
  Graph graph_;
};

double Whole(double cost) { return std::round(cost * kScale); }

}  // namespace

// Source -> giver k (one arc a unit, at what it loses) -> receiver k (the lane) -> sink (one arc a
// unit, at what is left of the greatest gain). Every unit may also stay, at the greatest gain: a
// way is taken only when it costs less than that. Givers and receivers are nodes of their own, so
// that nothing travels through a third place.
TransferPlan PlanTransfers(const std::vector<TransferPlace>& places,
                           const std::vector<TransferLane>& lanes) {
  const size_t n = places.size(), source = 2 * n, sink = 2 * n + 1, origin = 2 * n + 2;
  double greatest = 0;
  long supply = 0;
  for (const TransferPlace& place : places) {
    for (double g : place.gain) greatest = std::max(greatest, g);
    supply += static_cast<long>(place.loss.size());
  }
  TransferPlan plan;
  if (supply == 0 || !(greatest > 0)) return plan;
  const double stay = Whole(greatest);
  Network network(2 * n + 3);
  network.Add(origin, source, supply, 0);  // each unit goes or stays, once
  for (size_t p = 0; p < n; ++p) {
    for (double loss : places[p].loss) network.Add(source, p, 1, Whole(std::max(0.0, loss)));
    for (double gain : places[p].gain) {
      network.Add(n + p, sink, 1, stay - Whole(std::max(0.0, gain)));
    }
  }
  std::vector<std::pair<const TransferLane*, Traits::edge_descriptor>> ways;
  for (const TransferLane& lane : lanes) {
    if (lane.from >= n || lane.to >= n || lane.from == lane.to) continue;
    ways.emplace_back(&lane,
                      network.Add(lane.from, n + lane.to, supply, Whole(std::max(0.0, lane.cost))));
  }
  // Of two plans that are worth the same, the one that moves less.
  network.Add(source, sink, supply, std::max(0.0, stay - 1));
  network.Solve(origin, sink);
  std::map<std::pair<size_t, size_t>, int> units;
  std::vector<size_t> gives(n, 0), gets(n, 0);
  for (const auto& [lane, edge] : ways) {
    const long flow = network.Flow(edge);
    if (flow <= 0) continue;
    units[{lane->from, lane->to}] += static_cast<int>(flow);
    plan.saved -= lane->cost * static_cast<double>(flow);
    for (long k = 0; k < flow; ++k) {
      plan.saved -= places[lane->from].loss[gives[lane->from]++];
      plan.saved += places[lane->to].gain[gets[lane->to]++];
    }
  }
  for (const auto& [way, count] : units) plan.moves.push_back({way.first, way.second, count});
  return plan;
}

}  // namespace ferrule::plan
