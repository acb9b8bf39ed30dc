using System.Globalization;
using SawEdge.TestSupport;

namespace SawEdge.Core.Tests.Statistics;

/// <summary>Runs scripts in the distribution's own Python, with its scipy and statsmodels.</summary>
internal static class Python
{
    /// <summary>The interpreter for which the distribution's packages are installed.</summary>
    public const string Program = "/usr/bin/python3";

    /// <summary>There when python3-scipy is.</summary>
    public const string Scipy = "/usr/lib/python3/dist-packages/scipy/__init__.py";

    /// <summary>There when python3-statsmodels is.</summary>
    public const string Statsmodels = "/usr/lib/python3/dist-packages/statsmodels/__init__.py";

    /// <summary>Runs a script to its end.</summary>
    /// <param name="script">The script; it prints numbers, a list of them on each line, separated by blanks.</param>
    /// <param name="data">Arrays it finds under these names.</param>
    /// <returns>The numbers, line by line.</returns>
    public static async Task<double[][]> RunAsync(string script, params (string Name, double[] Data)[] data)
    {
        using var folder = new TempFolder();
        var file = folder.File("script.py");
        var arrays = data.Select(d => $"{d.Name} = np.array([{string.Join(", ", d.Data.Select(Text))}])");
        await File.WriteAllLinesAsync(
            file,
            [
                "import numpy as np",
                "from numpy import inf, nan",
                "def show(*values): print(*(repr(float(v)) for v in np.concatenate([np.atleast_1d(np.asarray(x, dtype=float)).ravel() for x in values])))",
                .. arrays,
                script,
            ]);
        var (exit, output) = await Peer.RunAsync(Program, ["-W", "ignore", file]);
        Assert.True(exit == 0, output);
        return [.. output.Split('\n', StringSplitOptions.RemoveEmptyEntries).Select(line => line.Split(' ').Select(Number).ToArray())];
    }

    private static string Text(double value) => double.IsPositiveInfinity(value) ? "inf" : double.IsNegativeInfinity(value) ? "-inf" : double.IsNaN(value) ? "nan" : value.ToString("R", CultureInfo.InvariantCulture);

    private static double Number(string text) => text switch
    {
        "inf" => double.PositiveInfinity,
        "-inf" => double.NegativeInfinity,
        "nan" => double.NaN,
        _ => double.Parse(text, CultureInfo.InvariantCulture),
    };
}
