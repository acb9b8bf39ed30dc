using System.Globalization;
using SawEdge.Core.Notation;

namespace SawEdge.Evaluation.Datasets;

/// <summary>
/// The wear measure on real machining recordings with measured wear. The files are never part of the repository: they are
/// read where they lie, and left out where they do not.
/// </summary>
internal static class RealRecordings
{
    /// <summary>Environment variable that names the folder.</summary>
    public const string Variable = "SAWEDGE_DATASETS";

    /// <summary>Prints the tables; what is not there is said to be skipped.</summary>
    /// <param name="folder">The folder as given; null: from the environment, or beside the repository.</param>
    /// <param name="output">Gets the tables.</param>
    /// <returns>0; 1 where the measure claims wear in the negative control.</returns>
    public static int Run(string? folder, TextWriter output)
    {
        folder ??= Environment.GetEnvironmentVariable(Variable) ?? BesideTheRepository();
        output.WriteLine($"The wear measure on real machining recordings from {folder}:");
        var mill = Read(folder, "nasa_mill/runs.csv", output);
        if (mill is not null)
            MeasuredWear.Write(mill, output);
        var wax = Read(folder, "smart_mill/experiments.csv", output);
        return wax is not null && NegativeControl.ClaimsWear(wax, output) ? 1 : 0;
    }

    /// <summary>A number of a row; NaN where the cell is empty.</summary>
    public static double Number(CsvTable table, CsvRow row, string column)
    {
        var text = Text(table, row, column);
        if (text.Length == 0)
            return double.NaN;
        return double.TryParse(text, NumberStyles.Float, CultureInfo.InvariantCulture, out var value)
            ? value
            : throw new ArgumentException($"line {row.Line}: {column} is '{text}'; it must be a number.");
    }

    /// <summary>A text of a row.</summary>
    public static string Text(CsvTable table, CsvRow row, string column) =>
        table.Columns.Contains(column) ? row[column] : throw new ArgumentException($"column {column} is missing; the file is not the one that its README describes.");

    private static CsvTable? Read(string folder, string file, TextWriter output)
    {
        var path = Path.Combine(folder, file);
        if (File.Exists(path))
            return CsvTable.Read(File.ReadAllText(path));
        output.WriteLine($"skipped: {path} is not there; give the folder as an argument or in {Variable}.");
        return null;
    }

    private static string BesideTheRepository()
    {
        for (var folder = new DirectoryInfo(AppContext.BaseDirectory); folder is not null; folder = folder.Parent)
        {
            if (File.Exists(Path.Combine(folder.FullName, "SawEdge.sln")))
                return Path.GetFullPath(Path.Combine(folder.FullName, "..", "shared", "datasets"));
        }

        return Path.GetFullPath("../shared/datasets");
    }
}
