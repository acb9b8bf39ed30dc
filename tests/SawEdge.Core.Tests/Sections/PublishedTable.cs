using System.Globalization;
using SawEdge.Core.Cutting;
using SawEdge.Core.Notation;

namespace SawEdge.Core.Tests.Sections;

/// <summary>Tables of published values that the tests hold the program against; each file names its source at its head.</summary>
internal static class PublishedTable
{
    /// <summary>The rows of a table.</summary>
    public static IReadOnlyList<CsvRow> Rows(string name)
    {
        using var stream = typeof(PublishedTable).Assembly.GetManifestResourceStream("Published." + name)
            ?? throw new InvalidOperationException($"table {name} is not in the assembly");
        using var reader = new StreamReader(stream);
        return CsvTable.Read(reader.ReadToEnd()).Rows;
    }

    /// <summary>A number of a row.</summary>
    public static double N(this CsvRow row, string column) => double.Parse(row[column], CultureInfo.InvariantCulture);

    /// <summary>Half a unit of the last digit that carries anything: 61.80 was printed from 61.8, 7.64 from 7.64, 120.0 from 120.</summary>
    public static double HalfUnit(string printed)
    {
        var text = printed.Contains('.', StringComparison.Ordinal) ? printed.TrimEnd('0') : printed;
        var point = text.IndexOf('.', StringComparison.Ordinal);
        return 0.5 * Math.Pow(10, point < 0 ? 0 : -(text.Length - point - 1));
    }
}
