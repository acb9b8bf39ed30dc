using System.Text.Json;
using SawEdge.Core.Comparison;
using SawEdge.Gateway.Commands.Alarms;

namespace SawEdge.Gateway.Commands.Comparing;

/// <summary><c>standards</c> and <c>compare</c> for programs: null where something is not known.</summary>
internal static class ComparingJson
{
    /// <summary>What the history says about the standards.</summary>
    public static string Write(StandardsResult result) => AlarmJson.Text(json =>
    {
        json.WriteStartObject();
        json.WriteStartArray("kinds");
        foreach (var kind in result.Kinds)
        {
            json.WriteStartObject();
            Kind(json, kind.Kind);
            json.WriteNumber("cuts", kind.Cuts);
            json.WriteNumber("runs", kind.Runs);
            json.WriteNumber("median_ratio", kind.Median);
            json.WriteNumber("spread_log", kind.Spread);
            Factor(json, "typical_ratio", kind.Typical);
            AlarmJson.Number(json, "adjusted_p", kind.P);
            json.WriteBoolean("beyond_chance", kind.Differs);
            json.WriteEndObject();
        }

        json.WriteEndArray();
        json.WriteStartArray("materials");
        foreach (var material in result.Materials)
        {
            var change = result.Changes.FirstOrDefault(change => change.Material == material);
            json.WriteStartObject();
            json.WriteString("material", material.Material);
            json.WriteNumber("cuts", material.Cuts);
            json.WriteNumber("runs", material.Runs);
            json.WriteStartArray("saws");
            foreach (var saw in material.Saws)
                json.WriteStringValue(saw);
            json.WriteEndArray();
            Factor(json, "typical_ratio", material.Typical);
            json.WriteNumber("adjusted_p", material.P);
            json.WriteNumber("least_kind_ratio", material.Least);
            json.WriteNumber("greatest_kind_ratio", material.Greatest);
            AlarmJson.Number(json, "rate_now_cm2_min", change?.NowCm2Min);
            AlarmJson.Number(json, "rate_proposed_cm2_min", change?.Rate.RateCm2Min);
            json.WriteEndObject();
        }

        json.WriteEndArray();
        json.WriteNumber("false_discovery_rate", StandardsReview.FalseShare);
        json.WriteNumber("least_cuts", result.Least);
        Tally(json, result.Tally);
        json.WriteEndObject();
    });

    /// <summary>What a comparison says.</summary>
    public static string Write(CompareResult result) => AlarmJson.Text(json =>
    {
        var compared = result.Compared;
        json.WriteStartObject();
        json.WriteString("sentence", result.Sentence);
        json.WriteString("first", result.First.Short);
        json.WriteString("second", result.Second.Short);
        Side(json, "first", compared.First, compared.FirstAlone);
        Side(json, "second", compared.Second, compared.SecondAlone);
        Factor(json, "rate_ratio", compared.Rate);
        AlarmJson.Number(json, "p", compared.P);
        json.WriteBoolean("of_these_blades_only", compared.OfTheseBlades);
        json.WriteStartArray("kinds");
        foreach (var kind in compared.Kinds)
        {
            json.WriteStartObject();
            Kind(json, kind.Kind);
            json.WriteNumber("first_cuts", kind.First.Cuts);
            json.WriteNumber("second_cuts", kind.Second.Cuts);
            Factor(json, "rate_ratio", kind.Rate);
            AlarmJson.Number(json, "adjusted_p", kind.P);
            json.WriteEndObject();
        }

        json.WriteEndArray();
        json.WriteNumber("least_cuts", result.Least);
        Tally(json, result.Tally);
        json.WriteEndObject();
    });

    private static void Kind(Utf8JsonWriter json, CutKind kind)
    {
        AlarmJson.Words(json, "saw", kind.Saw);
        AlarmJson.Words(json, "material", kind.Material);
        AlarmJson.Words(json, "section_family", kind.Family);
        AlarmJson.Words(json, "blade_type", kind.BladeType);
        AlarmJson.Words(json, "job_with_own_standard", kind.PlantJob);
    }

    private static void Side(Utf8JsonWriter json, string side, SideCount count, int alone)
    {
        json.WriteNumber($"{side}_cuts", count.Cuts);
        json.WriteNumber($"{side}_runs", count.Runs);
        json.WriteNumber($"{side}_cuts_without_counterpart", alone);
    }

    private static void Factor(Utf8JsonWriter json, string name, FactorInterval? factor)
    {
        AlarmJson.Number(json, name, factor?.Value);
        AlarmJson.Number(json, $"{name}_low", factor?.Low);
        AlarmJson.Number(json, $"{name}_high", factor?.High);
    }

    private static void Tally(Utf8JsonWriter json, CutTally tally)
    {
        AlarmJson.Moment(json, "first_cut_at", tally.First);
        AlarmJson.Moment(json, "last_cut_at", tally.Last);
        json.WriteNumber("cuts", tally.Taken);
        json.WriteNumber("unusual", tally.Unusual);
        json.WriteNumber("converted_to_present_standards", tally.Converted);
        json.WriteStartObject("left_out");
        json.WriteNumber("not_completed", tally.NotCompleted);
        json.WriteNumber("without_standard", tally.WithoutStandard);
        json.WriteNumber("with_feed_hold", tally.Held);
        json.WriteNumber("seen_with_gaps", tally.Gaps);
        json.WriteNumber("breaking_in", tally.BreakIn);
        json.WriteEndObject();
    }
}
