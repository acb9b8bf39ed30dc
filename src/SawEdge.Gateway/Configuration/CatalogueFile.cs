using SawEdge.Core.Materials;

namespace SawEdge.Gateway.Configuration;

/// <summary>The plant's own file of materials and factors.</summary>
internal static class CatalogueFile
{
    private const long LargestBytes = 16 * 1024 * 1024;

    /// <summary>Lays the file over the program's own catalogue.</summary>
    /// <param name="path">The file.</param>
    /// <param name="problems">What is wrong with it, a sentence each that names the file and the place; empty where nothing is.</param>
    /// <returns>The catalogue of what could be read.</returns>
    public static MaterialCatalogue Read(string path, out IReadOnlyList<string> problems)
    {
        var builtIn = MaterialCatalogue.BuiltIn;
        problems = [];
        try
        {
            if (Directory.Exists(path))
                problems = [$"{path} is a folder; name the file"];
            else if (!File.Exists(path))
                problems = [$"there is no file {path}"];
            else if (new FileInfo(path).Length > LargestBytes)
                problems = [$"{path} is larger than 16 MiB; is this the catalogue file?"];
            if (problems.Count > 0)
                return builtIn;
            var parse = builtIn.Overlay(File.ReadAllText(path));
            problems = [.. parse.Errors.Select(error => $"{path}, {error}")];
            return parse.Catalogue;
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException)
        {
            problems = [$"{path} cannot be read: {e.Message}"];
            return builtIn;
        }
    }
}
