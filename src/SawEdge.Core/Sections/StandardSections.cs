using System.Collections.Frozen;
using System.Globalization;
using SawEdge.Core.Notation;

namespace SawEdge.Core.Sections;

/// <summary>One section of a standard's table, as it may be written in the job list.</summary>
/// <param name="Name">Its designation, for example <c>IPE 300</c>.</param>
/// <param name="Family">The words of orientation it takes are those of this family: beam, channel, angle.</param>
/// <param name="Build">Builds it, turned by degrees.</param>
internal sealed record StandardSection(string Name, string Family, Func<double, Section> Build);

/// <summary>
/// The standards' tables: EN 10365 I, H and U sections, EN 10056-1 angles, ASTM A6 W, C, MC and L shapes, and pipe by nominal
/// size and schedule. The tables are published facts kept as data with their source; see the head of each file.
/// </summary>
public static class StandardSections
{
    private static readonly Lazy<FrozenDictionary<string, StandardSection>> ByKey = new(Read);
    private static readonly Lazy<FrozenDictionary<(string Nps, string Schedule), (double Od, double Wall)>> Pipes = new(ReadPipes);

    /// <summary>Every designation of the tables but the pipes.</summary>
    public static IReadOnlyList<string> Designations { get; } = [.. ByKey.Value.Values.Select(s => s.Name).Distinct().Order(StringComparer.Ordinal)];

    /// <summary>The section of a designation; capitals and spaces do not matter. Null where the tables have none.</summary>
    internal static StandardSection? Find(string designation) => ByKey.Value.GetValueOrDefault(Key(designation));

    /// <summary>The designations of the same family nearest to one that is not in the tables.</summary>
    internal static IEnumerable<string> Nearest(string designation, int count)
    {
        var key = Key(designation);
        var (family, size) = Split(key);
        return Designations
            .Select(d => (Name: d, Parts: Split(Key(d))))
            .Where(d => d.Parts.Family == family)
            .OrderBy(d => Math.Abs(d.Parts.Size - size))
            .ThenBy(d => EditDistance.Between(key, Key(d.Name)))
            .Select(d => d.Name)
            .Take(count);
    }

    /// <summary>Outside diameter and nominal wall of a pipe, mm; null where the tables have none.</summary>
    /// <param name="nps">Nominal pipe size as the trade writes it, for example <c>1-1/2</c>.</param>
    /// <param name="schedule">Schedule, for example <c>40</c>, <c>STD</c> or <c>10S</c>.</param>
    public static (double OdMm, double WallMm)? Pipe(string nps, string schedule) =>
        Pipes.Value.TryGetValue((nps, schedule.ToUpperInvariant()), out var found) ? found : null;

    /// <summary>The schedules of a nominal pipe size; empty where the size is not in the tables.</summary>
    public static IReadOnlyList<string> Schedules(string nps) => [.. Pipes.Value.Keys.Where(k => k.Nps == nps).Select(k => k.Schedule).OrderBy(s => s.Length).ThenBy(s => s, StringComparer.Ordinal)];

    /// <summary>A designation without spaces, in capitals, with x for times.</summary>
    private static string Key(string text) =>
        string.Concat(text.Where(c => !char.IsWhiteSpace(c))).ToUpperInvariant().Replace('×', 'X').Replace('*', 'X');

    private static (string Family, double Size) Split(string key)
    {
        var letters = key.TakeWhile(char.IsAsciiLetter).Count();
        var size = string.Concat(key.Skip(letters).TakeWhile(c => char.IsAsciiDigit(c) || c == '.'));
        return (key[..letters], double.TryParse(size, CultureInfo.InvariantCulture, out var value) ? value : 0);
    }

    private static FrozenDictionary<string, StandardSection> Read()
    {
        var all = new Dictionary<string, StandardSection>(StringComparer.Ordinal);
        foreach (var row in EmbeddedData.Table("en10365_beams.csv").Rows)
            Add(row["name"], "beam", turn => SectionFactory.Beam(N(row, "h"), N(row, "b"), N(row, "tw"), N(row, "tf"), N(row, "r"), turn));
        foreach (var row in EmbeddedData.Table("en10365_channels.csv").Rows)
        {
            Add(row["name"], "channel", turn => SectionFactory.Channel(
                N(row, "h"), N(row, "b"), N(row, "tw"), N(row, "tf"), N(row, "r1"), N(row, "r2"), N(row, "slope"), row["flange_at"].Length > 0 ? N(row, "flange_at") : null, turn));
        }

        foreach (var row in EmbeddedData.Table("en10056_angles.csv").Rows)
            Add(row["name"], "angle", turn => SectionFactory.Angle(N(row, "h"), N(row, "b"), N(row, "t"), N(row, "r1"), N(row, "r2"), turn));
        foreach (var row in EmbeddedData.Table("astm_a6_w.csv").Rows)
            Add(row["name"], "beam", turn => SectionFactory.Beam(In(row, "d"), In(row, "bf"), In(row, "tw"), In(row, "tf"), In(row, "k") - In(row, "tf"), turn));
        foreach (var row in EmbeddedData.Table("astm_a6_c.csv").Rows)
        {
            Add(row["name"], "channel", turn => SectionFactory.Channel(
                In(row, "d"), In(row, "bf"), In(row, "tw"), In(row, "tf"), In(row, "root"), In(row, "toe"), 2.0 / 12, null, turn));
        }

        foreach (var row in EmbeddedData.Table("astm_a6_l.csv").Rows)
        {
            var root = In(row, "k") - In(row, "t");
            Add(row["name"], "angle", turn => SectionFactory.Angle(In(row, "h"), In(row, "b"), In(row, "t"), root, Math.Min(root / 2, In(row, "t")), turn));
        }

        return all.ToFrozenDictionary(StringComparer.Ordinal);

        void Add(string name, string family, Func<double, Section> build)
        {
            var section = new StandardSection(name, family, build);
            foreach (var written in Spellings(name))
                all.TryAdd(Key(written), section);
        }
    }

    /// <summary>The ways in which the trade writes one designation.</summary>
    private static IEnumerable<string> Spellings(string name)
    {
        yield return name;
        var space = name.IndexOf(' ', StringComparison.Ordinal);
        if (space < 0)
            yield break;
        var (family, size) = (name[..space], name[(space + 1)..]);
        if (family is "HEA" or "HEB" or "HEM")
            yield return $"HE {size} {family[2]}";
        if (family is "UB" or "UC")
        {
            yield return $"{size} {family}";
            yield return $"UK{family[1]} {size}";
        }

        if (family == "L" && size.Split('x') is [var a, var b, var t] && a == b)
            yield return $"L {a}x{t}";
        if (family == "UPN")
            yield return $"UNP {size}";
    }

    private static FrozenDictionary<(string Nps, string Schedule), (double Od, double Wall)> ReadPipes() =>
        EmbeddedData.Table("pipe_b36.csv").Rows.ToFrozenDictionary(r => (r["nps"], r["schedule"]), r => (N(r, "od"), N(r, "wall")));

    private static double N(CsvRow row, string column) => double.Parse(row[column], CultureInfo.InvariantCulture);

    private static double In(CsvRow row, string column) => N(row, column) * Lengths.MmPerInch;
}
