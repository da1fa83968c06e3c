#include "core/promise/matching.h"

#include <boost/graph/adjacency_list.hpp>
#include <boost/graph/push_relabel_max_flow.hpp>

namespace ferrule::promise {
namespace {

using Traits = boost::adjacency_list_traits<boost::vecS, boost::vecS, boost::directedS>;
using Graph = boost::adjacency_list<
    boost::vecS, boost::vecS, boost::directedS, boost::no_property,
    boost::property<
        boost::edge_capacity_t, int,
        boost::property<boost::edge_residual_capacity_t, int,
                        boost::property<boost::edge_reverse_t, Traits::edge_descriptor>>>>;

class Network {
 public:
  explicit Network(size_t nodes) : graph_(nodes) {}

  Traits::edge_descriptor Add(size_t from, size_t to) {
    const auto forth = boost::add_edge(from, to, graph_).first;
    const auto back = boost::add_edge(to, from, graph_).first;
    auto capacity = boost::get(boost::edge_capacity, graph_);
    auto reverse = boost::get(boost::edge_reverse, graph_);
    capacity[forth] = 1;
    capacity[back] = 0;
    reverse[forth] = back;
    reverse[back] = forth;
    return forth;
  }
  void Flow(size_t source, size_t sink) { boost::push_relabel_max_flow(graph_, source, sink); }
  bool Used(Traits::edge_descriptor edge) {
    return boost::get(boost::edge_residual_capacity, graph_)[edge] == 0;
  }

 private:
  Graph graph_;
};

}  // namespace

std::vector<int> LargestMatching(size_t left, size_t right,
                                 const std::vector<std::pair<int, int>>& edges) {
  std::vector<int> mate(left, kUnmatched);
  if (edges.empty()) return mate;
  const size_t source = left + right;
  const size_t sink = source + 1;
  Network network(sink + 1);
  for (size_t i = 0; i < left; ++i) network.Add(source, i);
  for (size_t k = 0; k < right; ++k) network.Add(left + k, sink);
  std::vector<Traits::edge_descriptor> pairs;
  pairs.reserve(edges.size());
  for (const auto& [l, r] : edges) {
    pairs.push_back(network.Add(static_cast<size_t>(l), left + static_cast<size_t>(r)));
  }
  network.Flow(source, sink);
  for (size_t e = 0; e < edges.size(); ++e) {
    if (network.Used(pairs[e])) mate[static_cast<size_t>(edges[e].first)] = edges[e].second;
  }
  return mate;
}

}  // namespace ferrule::promise
